"""Photos of a data folder: files named by the hash of their content, never changed or removed."""

from __future__ import annotations

import hashlib
import os
import re
from pathlib import Path

from loomwright.errors import NotFoundError, UsageError
from loomwright.jobs.folder import private_opener

__all__ = ["PhotoFolder"]

FOLDER = "photos"
NAME = re.compile(r"[0-9a-f]{64}")


class PhotoFolder:
    """The photos beside a store; what is in here was already made harmless."""

    def __init__(self, folder: Path) -> None:
        """Keep the data folder; nothing is made in it before the first photo."""
        self._folder = folder / FOLDER

    def path(self, sha256: str) -> Path:
        """Return where a photo is kept. Raises NotFoundError on what is no hash."""
        if not NAME.fullmatch(sha256):
            raise NotFoundError("There is no such photo.", next_step="Look on the job's page.")
        return self._folder / sha256[:2] / f"{sha256}.jpg"

    def keep(self, jpeg: bytes) -> str:
        """Write a photo and return its hash; on the disk before this returns.

        Raises UsageError where it cannot be written.
        """
        digest = hashlib.sha256(jpeg).hexdigest()
        target = self.path(digest)
        if target.is_file():
            return digest
        part = target.with_name(f"{digest}.{os.getpid()}.part")
        try:
            self._folder.mkdir(mode=0o700, exist_ok=True)
            target.parent.mkdir(mode=0o700, exist_ok=True)
            with open(part, "wb", opener=private_opener) as opened:
                opened.write(jpeg)
                opened.flush()
                os.fsync(opened.fileno())
            part.replace(target)
        except OSError as error:
            raise UsageError(f"The photo cannot be kept: {error.strerror}.",
                             next_step="Make room on the disk.") from error
        return digest

    def read(self, sha256: str) -> bytes:
        """Return a photo. Raises NotFoundError."""
        try:
            return self.path(sha256).read_bytes()
        except OSError as error:
            raise NotFoundError("This photo is not in the folder of the jobs.",
                                next_step="Restore a backup.") from error
