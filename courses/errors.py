"""What is refused about the set-up of a course."""

from accounts.errors import Refused

__all__ = ["Refused"]
