"""Wrong input as JSON: the same place, value and remedy that the command line prints."""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import asdict

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from boostwright.errors import BoostwrightError, Fault, FileError
from boostwright.units import UnitError

Endpoint = Callable[[Request], Awaitable[Response]]


class Refused(Exception):
    """A request that is refused with a status of its own."""

    def __init__(self, status: int, fault: Fault) -> None:
        self.status = status
        self.fault = fault
        super().__init__(str(fault))


def as_json(faults: Sequence[Fault]) -> dict[str, list[dict[str, object]]]:
    """Faults as the body of an answer."""
    return {"faults": [{**asdict(fault), "said": str(fault)} for fault in faults]}


def faults_of(wrong: BoostwrightError) -> Sequence[Fault]:
    """The faults that an error carries; one that is only a sentence says what to do in it."""
    if isinstance(wrong, FileError):
        return wrong.faults
    if isinstance(wrong, UnitError):
        return [wrong.fault]
    problem, _, remedy = str(wrong).partition("; ")
    return [Fault(problem=problem, remedy=remedy)]


async def refused(_: Request, wrong: Exception) -> Response:
    """Answer a request that was refused with its own status."""
    assert isinstance(wrong, Refused)
    return JSONResponse(as_json([wrong.fault]), status_code=wrong.status)


async def wrong_input(_: Request, wrong: Exception) -> Response:
    """Answer wrong input with its faults."""
    assert isinstance(wrong, BoostwrightError)
    return JSONResponse(as_json(faults_of(wrong)), status_code=422)


async def wrong_request(_: Request, wrong: Exception) -> Response:
    """Answer a body that is not of the described form, each fault at its key."""
    assert isinstance(wrong, ValidationError)
    remedy = "see /openapi.json for the form of this request"
    faults = [
        Fault(key=".".join(str(part) for part in error["loc"]), problem=error["msg"].lower(), remedy=remedy)
        for error in wrong.errors()
    ]
    return JSONResponse(as_json(faults), status_code=422)
