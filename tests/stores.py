"""A store of pictures of somebody else's making, on this machine, that speaks S3."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from uuid import uuid4

import boto3

from tests.ports import free_port

KEY, SECRET, REGION = "a-key", "a-secret", "eu-west-1"


@contextmanager
def far_end() -> Iterator[str]:
    """Its address."""
    # A second to import, which no test without it should wait for.
    from moto.server import ThreadedMotoServer

    server = ThreadedMotoServer(ip_address="127.0.0.1", port=free_port(), verbose=False)
    server.start()
    try:
        yield "http://{}:{}".format(*server.get_host_and_port())
    finally:
        server.stop()


def bucket(address: str) -> str:
    """The name of a new one."""
    name = f"pictures-{uuid4().hex}"
    known = {"aws_access_key_id": KEY, "aws_secret_access_key": SECRET, "region_name": REGION}
    boto3.client("s3", endpoint_url=address, **known).create_bucket(
        Bucket=name, CreateBucketConfiguration={"LocationConstraint": REGION}
    )
    return name


def said(address: str) -> dict[str, str]:
    """What a site is told so that its pictures lie there."""
    told = {"ADDRESS": address, "BUCKET": bucket(address), "KEY": KEY, "SECRET": SECRET, "REGION": REGION}
    return {f"HORN_S3_{name}": value for name, value in told.items()}
