"""How long ago, in the one or two units that matter."""

from datetime import timedelta

STEPS = ((86_400, "d"), (3600, "h"), (60, "min"))


def ago(duration: timedelta) -> str:
    """A duration to be read at a glance.

    >>> [ago(timedelta(seconds=s)) for s in (0.4, 7, 125, 7260, 200_000)]
    ['0 s', '7 s', '2 min 5 s', '2 h 1 min', '2 d 7 h']
    """
    left = max(0, int(duration.total_seconds()))
    units = [*STEPS, (1, "s")]
    for place, (size, name) in enumerate(units):
        count, rest = divmod(left, size)
        if count and name != "s":
            next_size, next_name = units[place + 1]
            finer = rest // next_size
            return f"{count} {name} {finer} {next_name}" if finer else f"{count} {name}"
    return f"{left} s"
