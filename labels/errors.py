"""What a label can refuse, each with one sentence for the person who asked for it."""


class LabelError(ValueError):
    """A label that can't be made as asked; `sentence` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class Misread(LabelError):
    """A typed or scanned code that isn't one of the shop's codes."""


class BadFact(LabelError):
    """A fact that no label can carry: empty, too long, or not printable."""


class UnknownHazard(LabelError):
    """An H-code that the table doesn't have: its statement and pictograms aren't known."""


class DoesNotFit(LabelError):
    """Facts that don't fit the label or the QR symbol asked for, after every allowed shortening."""
