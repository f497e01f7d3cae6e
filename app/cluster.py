"""The machines of a cluster as an executor; needs the extra ``cluster``."""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import logging
from collections.abc import Iterator
from concurrent.futures import Executor
from typing import Any

from ..nesting.model.errors import InputError
from . import kernel_cache

PATIENCE = 10.0
"""Seconds to wait for a scheduler to answer."""


def refuse_malformed(address: str) -> None:
    """Raise `InputError` unless the address names a machine and a port.

    Asks nobody but the package that will use the address, so that a slip is told
    before any work begins.
    """
    _distributed()
    comm: Any = importlib.import_module("distributed.comm")
    try:
        scheme, place = comm.parse_address(address)
        comm.registry.get_backend(scheme)
        host, port = comm.parse_host_port(place)
        if not (host and 0 < port < 1 << 16):
            raise ValueError("it names no machine and port")
    except ValueError as error:
        raise InputError(
            "--cluster",
            f"{address!r} is no address of a scheduler: {error}",
            "write it like tcp://192.0.2.7:8786",
        ) from None


@contextlib.contextmanager
def executor_at(address: str | None) -> Iterator[Executor | None]:
    """Hand out an executor that sends work to a cluster; None without an address.

    Parameters
    ----------
    address : str or None
        Of the scheduler, such as ``tcp://192.0.2.7:8786``.

    Raises
    ------
    InputError
        If the address is malformed, nobody answers there, or the extra is not
        installed.
    """
    if address is None:
        yield None
        return
    distributed = _distributed()
    refuse_malformed(address)
    noisy = logging.getLogger("distributed")
    level = noisy.level
    noisy.setLevel(logging.CRITICAL)  # what is wrong is said in one line
    try:
        try:
            # A client that finds nobody can hardly be closed: knock before making one.
            # A stranger at the port may never answer, which connecting waits for.
            asyncio.run(asyncio.wait_for(_knock(address), PATIENCE + 1.0))
            client = distributed.Client(address, timeout=PATIENCE, set_as_default=False)
        except Exception as error:  # each kind of line has faults of its own
            words = str(error).splitlines()[0] if str(error) else "it cannot be reached"
            raise InputError(
                "--cluster",
                f"no scheduler answers at {address}: {words}",
                "start one with dask scheduler, or mend the address",
            ) from None
        with client:
            # Every worker, also one that comes later, keeps kernels where we do.
            client.register_worker_callbacks(kernel_cache.set_up)
            yield client.get_executor()
    finally:
        noisy.setLevel(level)


async def _knock(address: str) -> None:
    """Have a few words with a scheduler, as a client would; raise if that fails."""
    comm: Any = importlib.import_module("distributed.comm")
    core: Any = importlib.import_module("distributed.core")
    security: Any = importlib.import_module("distributed.security")
    line = await comm.connect(
        address,
        timeout=PATIENCE,
        **security.Security().get_connection_args("client"),
    )
    try:
        # Workers shake hands as well, but only a scheduler knows this.
        told = await core.send_recv(line, op="identity", reply=True)
        if told.get("type") != "Scheduler":
            raise ValueError(f"it is a {str(told.get('type', 'stranger')).lower()}")
    finally:
        line.abort()


def _distributed() -> Any:
    try:
        return importlib.import_module("distributed")
    except ImportError:
        raise InputError(
            "--cluster",
            "the package distributed is not installed",
            "install drystone[cluster]",
        ) from None
