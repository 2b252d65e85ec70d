"""The one way kernels are compiled: typed for the reader, cached on disk, no fast-math so that results repeat."""

from collections.abc import Callable
from functools import partial
from typing import Any, ParamSpec, TypeVar, cast

import numba  # type: ignore[import-untyped]

P = ParamSpec("P")
T = TypeVar("T")
_numba = cast(Any, numba)
_kernel = partial(_numba.njit, cache=True, error_model="numpy", no_cfunc_wrapper=True)  # nobody calls kernels from C


def compiled(function: Callable[P, T]) -> Callable[P, T]:
    """Compile a scalar or array kernel; the machine code is kept beside the source for the next process."""
    return cast(Callable[P, T], _kernel()(function))


def merged(function: Callable[P, T]) -> Callable[P, T]:
    """Compile a kernel that is always merged into its callers, without which their loops do not become vector code."""
    return cast(Callable[P, T], _kernel(forceinline=True)(function))


def compiled_parallel(function: Callable[P, T]) -> Callable[P, T]:
    """Compile a kernel whose `prange` loops may run on all cores; lanes must not depend on one another."""
    return cast(Callable[P, T], _kernel(parallel=True)(function))


prange: Any = _numba.prange
