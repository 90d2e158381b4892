"""How large a file is, in the unit that fits."""


def written_size(size: float) -> str:
    """Bytes in decimal units, as the SI has them.

    >>> [written_size(size) for size in (0, 999, 20_500_480, 1.5e12)]
    ['0 B', '999 B', '20.5 MB', '1.5 TB']
    """
    for unit in ("B", "kB", "MB", "GB"):
        if size < 1000:
            return f"{size:.0f} B" if unit == "B" else f"{size:.1f} {unit}"
        size /= 1000
    return f"{size:.1f} TB"
