"""Linear algebra on one thread: quicker for small tiles, and with the same bits everywhere."""

from __future__ import annotations

from contextlib import AbstractContextManager


def one_thread() -> AbstractContextManager[object]:
    """Keep the linear algebra library to one thread for a while.

    Returns
    -------
    context manager
        Inside it, products of matrices are worked out by the calling thread alone.

    Notes
    -----
    The matrices here are tiles that fit into a core's own memory. Splitting one of them over
    threads takes longer than the product itself, many times longer on a busy machine, and may
    change the order of additions.

    Examples
    --------
    >>> with one_thread():
    ...     pass
    """
    # A dependency of scikit-learn.
    from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]  # noqa: PLC0415

    limits: AbstractContextManager[object] = threadpool_limits(limits=1, user_api="blas")
    return limits
