"""Static files under names that carry their content's hash, each name looked up once."""

from __future__ import annotations

from functools import lru_cache

from whitenoise.storage import CompressedManifestStaticFilesStorage


class StaticFiles(CompressedManifestStaticFilesStorage):
    """A page draws hundreds of marks from one file of shapes; its address is worked out for the first.

    Modules of scripts name each other by these names too, so that none of an older version is taken with a newer one.
    """

    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        (
            "*.mjs",
            (
                (
                    r"""(?m)^(?P<matched>import (?P<what>.+) from "(?P<url>\./[^"]+)";)$""",
                    'import %(what)s from "%(url)s";',
                ),
            ),
        ),
    )
    max_post_process_passes = 12  # at least as many as modules name each other in a row

    def url(self, name: str | None, force: bool = False) -> str:
        return self._address(name, force)

    @lru_cache(maxsize=1024)  # noqa: B019 - there is one storage, and it lives as long as the process
    def _address(self, name: str | None, force: bool) -> str:
        return str(super().url(name, force))
