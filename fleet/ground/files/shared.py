"""A store of pictures and papers that several machines reach: any that speaks S3. Nobody reaches it but the site."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from boto3.exceptions import Boto3Error
from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError
from storages.backends.s3 import S3Storage

# A store that is silent holds a page no longer: seconds to reach it, and between two pieces.
REACHED, NEXT = 5, 20


@contextmanager
def told_as_of_a_disk() -> Iterator[None]:
    try:
        yield
    except (BotoCoreError, Boto3Error, ClientError) as trouble:
        raise OSError(errno.EHOSTUNREACH, f"The store of pictures does not do it: {trouble}") from trouble


class Shared(S3Storage):
    """Nothing in it is ever written over, and it gives out no addresses of its own."""

    def __init__(self, **given: Any) -> None:
        how = Config(
            connect_timeout=REACHED,
            read_timeout=NEXT,
            retries={"mode": "standard", "total_max_attempts": 2},
            signature_version="s3v4",
            s3={"addressing_style": "path" if given.get("endpoint_url") else "auto"},
            # Not every store that speaks S3 knows the newer sums.
            request_checksum_calculation="when_required",
            response_checksum_validation="when_required",
        )
        super().__init__(client_config=how, file_overwrite=False, default_acl=None, **given)

    def _open(self, name: str, mode: str = "rb") -> Any:
        with told_as_of_a_disk():
            opened = super()._open(name, mode)
            # Fetched at once: otherwise the answer would break off in its middle.
            opened.file  # noqa: B018
            return opened

    def _save(self, name: str, content: Any) -> str:
        with told_as_of_a_disk():
            return str(super()._save(name, content))

    def delete(self, name: str) -> None:
        with told_as_of_a_disk():
            super().delete(name)

    def exists(self, name: str) -> bool:
        with told_as_of_a_disk():
            return bool(super().exists(name))

    def listdir(self, name: str) -> tuple[list[str], list[str]]:
        with told_as_of_a_disk():
            folders, files = super().listdir(name)
            return folders, files

    def get_modified_time(self, name: str) -> Any:
        with told_as_of_a_disk():
            return super().get_modified_time(name)

    def url(self, name: str | None, *args: Any, **more: Any) -> str:
        raise ValueError("What lies in the store is shown by pages, behind their doors.")
