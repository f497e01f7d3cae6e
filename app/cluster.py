"""The machines of a cluster as an executor; needs the extra ``cluster``."""

from __future__ import annotations

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
        If nobody answers there, or the extra is not installed.
    """
    if address is None:
        yield None
        return
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError:
        raise InputError(
            "--cluster",
            "the package distributed is not installed",
            "install drystone[cluster]",
        ) from None
    noisy = logging.getLogger("distributed")
    level = noisy.level
    noisy.setLevel(logging.CRITICAL)  # what is wrong is said in one line
    try:
        try:
            client = distributed.Client(address, timeout=PATIENCE, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
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
