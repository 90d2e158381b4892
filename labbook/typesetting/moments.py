"""Moments on the clock of the readings, written as on a data sheet."""


def written_moment(seconds: float) -> str:
    """Minutes and seconds, with as many decimals as there are.

    >>> written_moment(345), written_moment(-90), written_moment(7.5)
    ('5:45', '-1:30', '0:07.5')
    """
    minutes, rest = divmod(round(abs(seconds), 3), 60)
    whole, _, tail = f"{rest:.3f}".partition(".")
    fraction = tail.rstrip("0")
    sign = "-" if seconds < 0 else ""
    return f"{sign}{minutes:.0f}:{whole:0>2}{'.' if fraction else ''}{fraction}"
