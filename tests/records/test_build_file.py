"""The build file: what is read from it, and every way in which it can be wrong."""

import re

import pytest

from boostwright.errors import FileError
from boostwright.records.build_file import build_from_document, changed, read_build_file
from boostwright.records.build_keys import KEYS
from tests.machine.builds import build_file, document


def faults_of(**changes):
    with pytest.raises(FileError) as caught:
        build_from_document(document(**changes), "build.toml")
    return {fault.key: str(fault) for fault in caught.value.faults}


def test_numbers_come_out_in_si(tmp_path):
    file = tmp_path / "six.toml"
    file.write_text(
        '[engine]\ndisplacement = "4.2 L"\ncylinders = 6\ncompression_ratio = 9.5\n'
        '[blower]\ndisplacement = "97.6 in^3"\nspeed_limit = "18000 rpm"\n'
        '[drive]\ndriving_pulley = "190 mm"\ndriven_pulley = "68 mm"\n'
        '[cooler]\ncoolant_temperature = "38 degC"\n'
        '[fuel]\nblend = "E85"\n'
        'injectors = { count = 6, flow = "1100 cc/min", rail_pressure = "4 bar", referenced = true }\n',
        encoding="utf-8",
    )
    read = read_build_file(file)
    assert read.numbers["engine.displacement"] == pytest.approx(4.2e-3)
    assert read.numbers["blower.displacement"] == pytest.approx(97.6 * 16.387064e-6)
    assert read.numbers["blower.speed_limit"] == pytest.approx(300.0)
    assert read.numbers["cooler.coolant_temperature"] == pytest.approx(311.15)
    assert read.numbers["fuel.injectors.flow"] == pytest.approx(1.1e-3 / 60)
    assert read.numbers["fuel.injectors.rail_pressure"] == pytest.approx(4e5)
    assert read.numbers["fuel.injectors.referenced"] == 1.0
    assert read.words == {"fuel.blend": "E85"}


def test_what_the_file_does_not_say_is_not_in_the_result():
    assert "blower.leakage_area" not in build_file().numbers
    assert build_file().volumetric_efficiency_curve == ()


def test_a_volumetric_efficiency_curve_is_read_in_turns_per_second():
    curve = [["2000 rpm", 0.88], ["4000 rpm", 0.95]]
    assert build_file(engine={"volumetric_efficiency_curve": curve}).volumetric_efficiency_curve == (
        (pytest.approx(2000 / 60), 0.88),
        (pytest.approx(4000 / 60), 0.95),
    )


ALONE = [  # (table, key, value, words of the message)
    ("engine", "displacement", "0 L", '"0 L" is not positive; check the number'),
    ("engine", "displacement", "4200 L", "is too large to be the displacement"),
    ("engine", "displacement", 4.2, '4.2 has no unit where a volume is wanted; write one such as "4.2 L"'),
    ("engine", "displacement", "4.2 kW", "is a power where a volume is wanted"),
    ("engine", "cylinders", 6.5, "6.5 is not a whole number"),
    ("engine", "cylinders", "six", '"six" is not a whole number'),
    (
        "engine",
        "compression_ratio",
        0.9,
        "0.9 is too small to be the compression ratio; give cylinder volume at bottom",
    ),
    ("engine", "volumetric_efficiency_curve", [["4000 rpm", 0.9], ["2000 rpm", 0.9]], "does not rise in speed"),
    ("engine", "volumetric_efficiency_curve", [["2000 rpm", 90], ["4000 rpm", 95]], "outside 0.3 to 1.3"),
    ("engine", "volumetric_efficiency_curve", 0.9, "is not a list of pairs of speed and value"),
    ("engine", "volumetric_efficiency_curve", [["fast", 0.9], ["4000 rpm", 0.9]], '"fast" is not a number with a unit'),
    ("blower", "kind", "vane", '"vane" is not a word that we know here; write roots or screw'),
    ("blower", "speed_limit", "18000", "has no unit where a speed is wanted"),
    ("drive", "driven_pulley", "44 mm", "ISO 9981 allows PK pulleys of 45 mm effective diameter or more"),
    ("fuel", "blend", "E110", '"E110" is not a fuel that we know; an ethanol blend goes from E0 to E100 by volume'),
    ("fuel", "blend", 85, "85 is not a word in quotes"),
    ("fuel", "injectors", {"referenced": "yes"}, '"yes" is neither true nor false'),
    ("cooler", "effectiveness", 80, "80 is too large to be the effectiveness"),
    ("cooler", "effectiveness", [0.8], "[0.8] is not a number with a unit"),
]


@pytest.mark.parametrize(("table", "key", "value", "words"), ALONE, ids=lambda part: str(part)[:24])
def test_a_wrong_value_is_refused_at_its_key_with_a_remedy(table, key, value, words):
    faults = faults_of(**{table: {key: value}})
    assert len(faults) == 1
    (place, message), *_ = faults.items()
    assert place.startswith(f"{table}.{key}")
    assert message.startswith(f"build.toml, key {place}: ")
    assert words in message


@pytest.mark.parametrize(
    ("changes", "place", "suggestion"),
    [
        ({"engine": {"displacment": "4.2 L"}}, "engine.displacment", "did you mean engine.displacement?"),
        ({"blower": {"ribs": 8}}, "blower.ribs", "did you mean drive.ribs?"),
        ({"coooler": {"effectiveness": 0.8}}, "coooler", "did you mean cooler?"),
        ({"limits": {"xyz": 1}}, "limits.xyz", "known here are charge_temperature"),
        ({"fuel": {"injectors": {"counts": 6}}}, "fuel.injectors.counts", "did you mean fuel.injectors.count?"),
    ],
)
def test_an_unknown_key_is_refused_with_the_nearest_known_one(changes, place, suggestion):
    assert suggestion in faults_of(**changes)[place]


def test_a_missing_table_and_a_missing_key_are_told_apart():
    faults = faults_of(engine={"cylinders": None}, blower=dict.fromkeys(("displacement", "kind", "speed_limit")))
    assert "is missing: number of cylinders; write cylinders = 6 under [engine]" in faults["engine.cylinders"]
    assert "is missing: volume carried per turn of the drive shaft" in faults["blower.displacement"]
    with pytest.raises(FileError, match=r"key engine\.displacement: is missing with its table \[engine\]"):
        build_from_document({"drive": {"ratio": 2.0}}, "build.toml")


def test_a_drive_needs_a_ratio_or_both_pulleys():
    none = faults_of(drive={"driving_pulley": None, "driven_pulley": None})
    assert "says nothing of the ratio; write ratio = 2.8, or driving_pulley" in none["drive"]
    assert "is missing beside the other pulley" in faults_of(drive={"driving_pulley": None})["drive.driving_pulley"]


def test_a_ratio_may_stand_beside_pulleys_that_agree_on_pitch_line_or_nominal_diameters():
    for ratio in (2.70, 2.79):
        assert build_file(drive={"ratio": ratio}).numbers["drive.ratio"] == ratio


def test_a_ratio_that_contradicts_the_pulleys_is_refused():
    message = faults_of(drive={"ratio": 2.5})["drive.ratio"]
    assert "2.5 contradicts the pulleys, which give 2.694 on the pitch line of the belt; give the ratio or" in message


def test_a_ratio_that_overspeeds_the_blower_at_the_engines_stated_limit_is_refused():
    message = faults_of(engine={"speed_limit": "7000 rpm"})["drive.driven_pulley"]
    assert "2.694 turns the rotor at 18861 rpm with the engine at 7000 rpm, its speed_limit" in message
    assert "the blower allows 18000 rpm; a ratio of 2.57 is the most" in message


def test_without_a_stated_limit_only_a_ratio_too_high_for_any_usual_engine_is_refused():
    pulleys = {"driving_pulley": None, "driven_pulley": None}
    assert build_file(drive={**pulleys, "ratio": 3.5}).numbers["drive.ratio"] == 3.5
    assert "a low top speed for its stroke" in faults_of(drive={**pulleys, "ratio": 4.5})["drive.ratio"]


def test_the_internal_step_counts_in_the_rotor_speed():
    assert "turns the rotor" in faults_of(drive={"internal_step": 1.5})["drive.driven_pulley"]


def test_a_kind_and_an_internal_volume_ratio_must_agree():
    place = "blower.internal_volume_ratio"
    assert "1.3 contradicts kind = roots" in faults_of(blower={"internal_volume_ratio": 1.3})[place]
    assert "1 contradicts kind = screw" in faults_of(blower={"kind": "screw", "internal_volume_ratio": 1.0})[place]


def test_bore_and_stroke_must_sweep_the_displacement():
    message = faults_of(engine={"bore": "100 mm", "stroke": "100 mm"})["engine.displacement"]
    assert "does not agree with bore, stroke and cylinders, which sweep 4.712 L" in message


def test_a_throttle_is_given_once_and_its_shaft_is_thinner_than_its_bore():
    assert "stands beside throttle_bore" in faults_of(inlet={"throttle_area": "50 cm^2"})["inlet.throttle_area"]
    assert (
        "is not below throttle_bore"
        in faults_of(inlet={"throttle_shaft": "0.09 m", "throttle_bore": "90 mm"})["inlet.throttle_shaft"]
    )


def test_all_faults_of_a_file_are_reported_at_once_in_the_order_of_the_keys():
    faults = faults_of(
        engine={"displacement": "0 L", "compression_ratio": 0.9, "speed_limit": "7000 rpm"},
        blower={"displacement": 1.6},
        drive={"driven_pulley": "40 mm", "ratio": 5.0},
        fuel={"blend": "E110", "lamda": 0.86},
    )
    assert list(faults) == [
        "engine.displacement",
        "engine.compression_ratio",
        "blower.displacement",
        "drive.ratio",
        "drive.driven_pulley",
        "fuel.blend",
        "fuel.lamda",
    ]


def test_a_file_that_is_not_there_or_not_toml_is_refused_in_one_sentence(tmp_path):
    with pytest.raises(FileError, match=r"none\.toml: is not there; check the name of the build file"):
        read_build_file(tmp_path / "none.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("[engine]\ndisplacement = 4.2 L\n", encoding="utf-8")
    with pytest.raises(FileError, match=r"broken\.toml, row 2: is not TOML"):
        read_build_file(broken)


def test_every_key_has_a_phrase_and_a_possible_range():
    wrong = [
        key.path for key in KEYS if not key.phrase or key.low > key.high or not re.fullmatch(r"[a-z_.]+", key.path)
    ]
    assert wrong == []


def test_a_changed_number_is_checked_as_if_the_file_said_it():
    base = build_from_document(
        {
            "engine": {"displacement": "4.2 L", "cylinders": 6, "compression_ratio": 9.5},
            "blower": {"displacement": "1.6 L"},
            "drive": {"driving_pulley": "190 mm", "driven_pulley": "68 mm"},
        },
        "build.toml",
    )
    assert changed(base, {"drive.driven_pulley": 0.07}).numbers["drive.driven_pulley"] == 0.07
    assert changed(base, {"cooler.effectiveness": 0.7}).tables >= {"cooler"}
    assert "cooler.effectiveness" not in base.numbers
    with pytest.raises(
        FileError, match=r"build\.toml, key drive\.driven_pulley: 30\.000 mm is outside what is possible"
    ):
        changed(base, {"drive.driven_pulley": 0.03})
    with pytest.raises(FileError, match=r"key drive\.ratio: 4 contradicts the pulleys"):
        changed(base, {"drive.ratio": 4.0})


def test_ports_out_of_their_order_are_refused_at_the_key():
    with pytest.raises(
        FileError, match=r"key inlet\.port_closing_angle: 260 deg comes after blower\.compression_start_angle, 240"
    ):
        build_from_document(
            {
                "engine": {"displacement": "4.2 L", "cylinders": 6, "compression_ratio": 9.5},
                "blower": {"displacement": "1.6 L", "compression_start_angle": "240 deg"},
                "drive": {"ratio": 2.8},
                "inlet": {"port_closing_angle": "260 deg"},
            },
            "build.toml",
        )
