"""Why nobody was named."""


class NotGiven(Exception):
    """The campus sign-on gave no name that can be relied on; with a sentence for people."""
