"""What is refused about inspections, findings and the day."""

from accounts.errors import Refused

__all__ = ["Refused"]
