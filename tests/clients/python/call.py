"""Calls the service at the address given, with a client made of its document by openapi-python-client."""

import re
import sys
from typing import TypeVar

import jsonpatch
from stopwright_client import Client
from stopwright_client.api.energy import match_units
from stopwright_client.api.measuring import calibrate_unit
from stopwright_client.api.ratios import balance_lights
from stopwright_client.api.service import answer_batch, list_codes
from stopwright_client.api.stops import convert_stops, convert_stops_by_query, list_marks
from stopwright_client.models import (
    BatchItem,
    BatchRequest,
    CalibrateRequest,
    CandidateInput,
    CodeKind,
    Conversion,
    ConvertRequest,
    EquivalenceRequest,
    ExposureInput,
    LightInput,
    LightingRatioInput,
    MarksKind,
    MarkStep,
    NumberReading,
    Params,
    Problem,
    QuantityKind,
    QuestionBody,
    RatioCounting,
    ReadingInput,
    ReferenceInput,
    ScaleInput,
    ScaleStyle,
    SetRequest,
    Setting,
    UnitInput,
    UnitReadingInput,
    WarningCode,
)
from stopwright_client.types import Unset

T = TypeVar("T")


def answered(parsed: T | Problem | None) -> T:
    """The answer of a call; anything else ends the program."""
    assert parsed is not None, "a status that the document does not know"
    assert not isinstance(parsed, Problem), parsed.detail
    return parsed


def stops(client: Client) -> None:
    asked = answered(convert_stops_by_query.sync(client=client, from_="f/8", to="f/11"))
    posted = answered(convert_stops.sync(client=client, body=ConvertRequest(from_="f/8", to="f/11")))
    assert asked == posted
    assert asked.exposure_stops == -1
    assert asked.to.mark == "f/11"
    assert asked.kind is QuantityKind.F_NUMBER
    numbers = ConvertRequest(from_=8, to=11, kind=QuantityKind.F_NUMBER)
    assert answered(convert_stops.sync(client=client, body=numbers)).exposure_stops == -1
    marks = answered(list_marks.sync(kind=MarksKind.F_NUMBER, client=client, step=MarkStep.HALF)).marks
    assert "f/9.5" in [row.mark for row in marks]


def balance(client: Client) -> None:
    key = UnitInput(energy="600 J", scale=ScaleInput(style=ScaleStyle.DIAL, full=9, least=2))
    fill = UnitInput(energy=300, scale=ScaleInput(style=ScaleStyle.PERCENT, least=5))
    body = SetRequest(
        exposure=ExposureInput(f_number="f/8"),
        lights=[LightInput(name="key", unit=key), LightInput(name="fill", unit=fill)],
        ratio=LightingRatioInput(value="3:1", key="key", fill="fill"),
        readings=[
            ReadingInput(light="key", setting="8", f_number="f/11"),
            ReadingInput(light="fill", setting="100 %", f_number="f/8"),
        ],
    )
    answer = answered(balance_lights.sync(client=client, body=body))
    assert answer.feasible and answer.optimality.proven
    settings = {light.light: light.setting.label if light.setting else None for light in answer.settings}
    assert settings == {"key": "6.4", "fill": "33 %"}
    assert answer.ratio is not None and answer.ratio.counting is RatioCounting.SIDES


def weak_fill() -> SetRequest:
    """A set whose fill is too weak for the ratio."""
    key = UnitInput(energy="600 J", scale=ScaleInput(style=ScaleStyle.DIAL, full=9, least=2))
    fill = UnitInput(energy=300, scale=ScaleInput(style=ScaleStyle.PERCENT, least=5))
    return SetRequest(
        exposure=ExposureInput(f_number="f/8"),
        lights=[LightInput(name="key", unit=key), LightInput(name="fill", unit=fill)],
        ratio=LightingRatioInput(value="2:1", key="key", fill="fill"),
        readings=[
            ReadingInput(light="key", setting="8", f_number="f/11"),
            ReadingInput(light="fill", setting="100 %", f_number="f/4"),
        ],
    )


def remedy_followed(client: Client) -> None:
    """What the service proposes is applied to the request and asked again."""
    body = weak_fill()
    answer = answered(balance_lights.sync(client=client, body=body))
    assert not answer.feasible
    remedy = answer.remedies[0]
    patch = [operation.to_dict() for operation in remedy.patch]
    patched = SetRequest.from_dict(jsonpatch.apply_patch(body.to_dict(), patch))
    better = answered(balance_lights.sync(client=client, body=patched))
    assert better.feasible == remedy.then.feasible
    assert better.worst_error_stops == remedy.then.worst_error_stops


# What this program says in German, by code.
GERMAN = {
    WarningCode.SIDES_RATIO_MISSED: "Lichtseite zu Schattenseite ergibt {achieved}:1 statt {target}:1.",
}


def filled(template: str, params: Params | Unset, decimal: str = ".") -> str:
    """A template with its params in place."""

    def text(name: re.Match[str]) -> str:
        assert not isinstance(params, Unset)
        value = params[name[1]]
        return f"{value:g}".replace(".", decimal) if isinstance(value, (int, float)) else str(value)

    return re.sub(r"\{(\w+)\}", text, template)


def code_translated(client: Client) -> None:
    codes = answered(list_codes.sync(client=client)).codes
    warning = answered(balance_lights.sync(client=client, body=weak_fill())).warnings[0]
    [row] = [row for row in codes if row.kind is CodeKind.WARNING and row.code == warning.code]
    assert filled(row.template, warning.params) == warning.text
    words = filled(GERMAN.get(warning.code, row.template), warning.params, ",")
    assert words == "Lichtseite zu Schattenseite ergibt 4,03:1 statt 2:1."


def refused(client: Client) -> None:
    response = convert_stops.sync_detailed(client=client, body=ConvertRequest(from_="f/0", to="f/-2"))
    assert response.status_code == 422
    problem = response.parsed
    assert isinstance(problem, Problem)
    assert problem.status == 422 and problem.type_ == "/problems/invalid-request"
    assert not isinstance(problem.errors, Unset)
    assert [error.pointer for error in problem.errors] == ["/from", "/to"]


def sent_back(client: Client) -> None:
    scale = ScaleInput(style=ScaleStyle.DIAL, full=9, least=3)
    readings = [UnitReadingInput(setting=label, f_number=22 / 2 ** ((9 - label) / 2)) for label in (9, 8, 7)]
    unit = UnitInput(energy="400 J", scale=scale)
    body = CalibrateRequest(unit=unit, readings=readings, reading=NumberReading.LITERAL)
    calibrated = UnitInput.from_dict(answered(calibrate_unit.sync(client=client, body=body)).unit.to_dict())
    reference = ReferenceInput(unit=calibrated, setting="8", exposure=ExposureInput(f_number="f/8"))
    swap = EquivalenceRequest(reference=reference, candidates=[CandidateInput(unit=calibrated)])
    setting: Setting = answered(match_units.sync(client=client, body=swap)).candidates[0].setting
    assert setting.label == "8"
    # A setting out of an answer may be sent as it is.
    again = EquivalenceRequest(
        reference=ReferenceInput(unit=calibrated, setting=setting, exposure=ExposureInput(f_number="f/8")),
        candidates=[CandidateInput(unit=calibrated)],
    )
    assert answered(match_units.sync(client=client, body=again)).candidates[0].setting.label == "8"


def batch(client: Client) -> None:
    question = ConvertRequest(from_="f/8", shift=-1)
    item = BatchItem(id="one", path="/v1/stops/convert", body=QuestionBody.from_dict(question.to_dict()))
    [answer] = answered(answer_batch.sync(client=client, body=BatchRequest(requests=[item]))).answers
    assert (answer.id, answer.status) == ("one", 200)
    assert Conversion.from_dict(answer.body.to_dict()).to.mark == "f/11"


def wrong(client: Client) -> None:
    """What the types must not let through; never called."""
    ConvertRequest(to="f/8")  # type: ignore[call-arg]
    ConvertRequest(from_=["f/8"], to="f/11")  # type: ignore[arg-type]
    ConvertRequest(from_="f/8", stop=1)  # type: ignore[call-arg]
    ScaleInput(style="dail", least=3)  # type: ignore[arg-type]
    answered(balance_lights.sync(client=client, body=SetRequest.from_dict({}))).total_energy_j + 1  # type: ignore[operator]


def main() -> None:
    client = Client(base_url=sys.argv[1])
    for call in (stops, balance, remedy_followed, code_translated, refused, sent_back, batch):
        call(client)
        print(f"python: {call.__name__}")


if __name__ == "__main__":
    main()
