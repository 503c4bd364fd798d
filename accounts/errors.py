"""What is refused about people and their rights."""


class Refused(Exception):
    """A deed that may not be done. ``code`` is stable; the message is a whole sentence for the person."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = str(sentence)
