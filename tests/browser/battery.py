"""A phone whose battery dies: a browser with a profile of its own, which is ended all at once and started again."""

from __future__ import annotations

import contextlib
import os
import signal
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from playwright.sync_api import BrowserContext, BrowserType

from accounts.models import User
from tests.browser.hands import Hands
from tests.conftest import BROWSER_FLAGS, PHONE, find_browser
from tests.said import Said


class Phone:
    """``hands``: who has it. ``said``: what pages asked, each agreed to; ``complaints``: errors of scripts."""

    def __init__(self, w: SimpleNamespace, person: User, kind: BrowserType, profile: Path, address: str) -> None:
        self._w, self._person, self._kind, self._profile, self._address = w, person, kind, profile, address
        self.complaints: list[str] = []
        self.start()

    def start(self) -> Hands:
        options: dict[str, Any] = {**PHONE, "base_url": self._address}
        self.window: BrowserContext = self._kind.launch_persistent_context(
            str(self._profile), executable_path=find_browser(), args=BROWSER_FLAGS, **options
        )
        self.window.set_default_timeout(20_000)
        self.window.on("weberror", lambda error: self.complaints.append(str(error.error)))
        self.said = Said(self.window)
        self.hands = Hands(self._w, self._person, self.window)
        return self.hands

    def die(self) -> None:
        """End every process of the browser at once, as a battery does."""
        for folder in Path("/proc").iterdir():
            with contextlib.suppress(OSError, ValueError):
                if str(self._profile).encode() in (folder / "cmdline").read_bytes():
                    os.kill(int(folder.name), signal.SIGKILL)
        with contextlib.suppress(Exception):  # what drove it notices that nobody is there
            self.window.close()
