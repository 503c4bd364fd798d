"""What the history refuses."""


class LedgerError(Exception):
    """Base of all refusals; ``code`` is stable, the message is a sentence."""

    code = "ledger"


class AlreadyRecorded(LedgerError):
    """The act with this identity stands in the log already."""

    code = "already-recorded"

    def __init__(self, seq: int) -> None:
        super().__init__(f"This was received already, as entry {seq}.")
        self.seq = seq
