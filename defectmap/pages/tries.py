"""Wrong tries at the passphrase, kept in the record, where no visitor can clear them.

They are counted for each address, so that a stranger's do not lock out the shop's own phone, and for all
addresses together, as one device may take many. A pause follows, and doubles with each further try.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from defectmap.pages.passphrase import PassphraseError
from defectmap.record.notes import put_setting, setting

if TYPE_CHECKING:
    from defectmap.record.store import Store

TRIES = "network tries"
FREE_TRIES, FREE_TRIES_OF_ALL = 5, 50
PAUSE_S, LONGEST_PAUSE_S = 30.0, 3600.0
FORGOTTEN_AFTER_S = 24 * 3600.0
MOST_ADDRESSES = 200
ALL = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tries:
    """The tries kept in a record; one writer at a time."""

    store: Store
    now_s: Callable[[], float]

    def check(self, address: str) -> None:
        """Refuse a try during a pause.

        Raises
        ------
        PassphraseError
            There were too many wrong ones; it says how long to wait.
        """
        now, kept = self.now_s(), self._kept()
        wait = max((kept[key]["until_s"] - now for key in (address, ALL) if key in kept), default=0.0)
        if wait > 0:
            raise PassphraseError(f"Too many wrong tries; wait {wait:.0f} seconds, then try again.")

    def wrong(self, address: str) -> None:
        """Note a wrong try."""
        now, kept = self.now_s(), self._kept()
        for key, free in ((address, FREE_TRIES), (ALL, FREE_TRIES_OF_ALL)):
            count = kept.get(key, {"wrong": 0})["wrong"] + 1
            pause = PAUSE_S * 2.0 ** min(count - free, 20) if count >= free else 0.0
            kept[key] = {"wrong": count, "at_s": now, "until_s": now + min(pause, LONGEST_PAUSE_S)}
        newest = sorted(kept, key=lambda key: (key == ALL, kept[key]["at_s"]))[-MOST_ADDRESSES:]
        put_setting(self.store, TRIES, {key: kept[key] for key in newest})

    def right(self, address: str) -> None:
        """Forget the wrong tries of an address that has given the passphrase."""
        kept = self._kept()
        if kept.pop(address, None) is not None:
            put_setting(self.store, TRIES, kept)

    def _kept(self) -> dict[str, dict[str, Any]]:
        found = setting(self.store, TRIES)
        if not isinstance(found, Mapping):
            return {}
        now = self.now_s()
        # A clock that was set back must lock nobody out for longer than the longest pause.
        return {
            key: {**one, "until_s": min(one["until_s"], now + LONGEST_PAUSE_S)}
            for key, one in found.items()
            if now - one["at_s"] < FORGOTTEN_AFTER_S
        }
