"""Work on this machine's processes, or on a Dask cluster."""

from __future__ import annotations

import logging
import sys
import warnings
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from importlib import import_module

from setupadvisor.errors import InputError, Mistake

LOCAL = "local"
SECONDS_TO_ANSWER = 10


@contextmanager
def on_cluster(address: str | None, jobs: int) -> Iterator[int]:
    """Send the work to a cluster for as long as the context lasts.

    Parameters
    ----------
    address : str or None
        A scheduler's address; ``local`` to start one on this machine; None for no cluster.
    jobs : int
        Processes asked for; 1 on a cluster stands for all that it has.

    Yields
    ------
    int
        Processes to use.

    Raises
    ------
    InputError
        If Dask is not installed, or no scheduler answers at the address.
    """
    if address is None:
        with warnings.catch_warnings():
            # joblib renews processes whose memory has grown, and nothing is lost by it.
            warnings.filterwarnings("ignore", message="A worker stopped while some jobs")
            yield jobs
        return
    try:
        distributed = import_module("dask.distributed")
    except ImportError:
        mend = "pip install 'setupadvisor[cluster]', or leave --cluster out"
        raise InputError(Mistake("--cluster", "this needs Dask", mend)) from None
    from joblib import cpu_count, parallel_config  # noqa: PLC0415

    processes = jobs if jobs > 1 else cpu_count()
    with ExitStack() as stack:
        if address == LOCAL:
            # Reachable from this machine only: a worker runs whatever it is sent.
            cluster = distributed.LocalCluster(
                n_workers=processes,
                threads_per_worker=1,
                host="127.0.0.1",
                dashboard_address="127.0.0.1:0",
                # That a worker takes its time to end is no news to the user.
                silence_logs=logging.ERROR,
            )
            client = distributed.Client(stack.enter_context(cluster))
        else:
            try:
                client = distributed.Client(address, timeout=SECONDS_TO_ANSWER)
            except (OSError, ValueError, TypeError) as error:
                reason = str(error).strip().split("\n")[0]
                raise InputError(
                    Mistake(
                        f"--cluster {address}",
                        f"no scheduler answers there ({reason})",
                        "give its address, as tcp://host:8786, or local for this machine",
                    )
                ) from None
        stack.enter_context(client)
        workers = len(client.scheduler_info()["workers"])
        if not workers:
            mend = "start some there: dask worker ADDRESS"
            raise InputError(Mistake(f"--cluster {address}", "it has no workers", mend))
        print(f"Working on a cluster of {workers} processes.", file=sys.stderr)
        stack.enter_context(parallel_config(backend="dask"))
        yield jobs if jobs > 1 else -1
