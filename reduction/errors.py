"""The two ways a reduction says no, both in a sentence a student can act on."""


class ReductionError(ValueError):
    """Nothing can be computed; the message says what was seen, what was expected, what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class InputError(ReductionError):
    """One field of the input cannot be used as it stands."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field

    def __str__(self) -> str:
        return f"{self.field}: {self.sentence}"
