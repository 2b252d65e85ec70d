import numpy as np
import pytest

from boostwright.reduction.reduce import reduce_pull
from boostwright.reduction.stages import ReductionSettings
from tests.reduction.logs import RPM, raw_pull, sweep_channels, with_noise

SETTINGS = ReductionSettings(speed_range=(3000 * RPM, 5800 * RPM))
GEARED = ReductionSettings(speed_range=(3000 * RPM, 5800 * RPM), drive_ratio=2.794)


def pull_with(seed=1, settings=SETTINGS, **changed):
    """A noisy pull in which some channels are replaced by what the change makes of them at the true speed in rpm."""
    clean = sweep_channels()
    noisy = with_noise(clean, np.random.default_rng(seed))
    rpm = clean["engine_speed"] * 60
    return reduce_pull(raw_pull(noisy | {name: change(noisy[name], rpm) for name, change in changed.items()}), settings)


def slipping(values, rpm):
    return values * (1 - 0.05 * np.clip((rpm - 4500) / 1000, 0, 1))


def dented(depth, low, high):
    return lambda values, rpm: np.where((rpm > low) & (rpm < high), (1 - depth) * values, values)


def frozen_between(low, high):
    def freeze(values, rpm):
        rows = np.flatnonzero((rpm > low) & (rpm < high) & (values > 0))
        held = values.copy()
        held[rows[0] : rows[-1]] = values[rows[0]]
        return held

    return freeze


def test_a_healthy_pull_shows_no_fault():
    """200 pulls with ripple of 0.4 % over 80 rpm, shape of 0.3 % over 700 rpm and noise: no alarm at all."""
    generator = np.random.default_rng(8)
    for seed in range(200):
        waves = [(size, generator.uniform(0, 6), length) for size, length in ((0.006, 700.0), (0.008, 90.0))]

        def rippled(values, rpm, waves=waves):
            return values * np.exp(sum(size * np.sin(rpm / length + at) for size, at, length in waves))

        assert pull_with(seed, GEARED, torque=rippled).faults == ()


def test_belt_slip_is_read_from_rotor_speed_against_the_drive_ratio():
    (fault,) = pull_with(settings=GEARED, rotor_speed=slipping).faults
    assert fault.kind == "belt slip"
    assert fault.from_speed * 60 == pytest.approx(4900, abs=122)  # where it passes the usual creep of 2 %
    assert fault.to_speed * 60 == pytest.approx(5800)
    assert fault.size == pytest.approx(0.05, abs=0.002)
    assert fault.sentence.startswith("the rotor falls behind by up to 5.0% of the drive ratio 2.794 from ")


def test_belt_slip_is_read_from_rotor_speed_without_a_drive_ratio():
    (fault,) = pull_with(rotor_speed=slipping).faults
    assert (fault.kind, fault.to_speed * 60) == ("belt slip", pytest.approx(5800))
    assert fault.size == pytest.approx(0.05, abs=0.004)
    assert "of this pull's best ratio 2.79" in fault.sentence


def test_slip_over_the_whole_range_needs_the_drive_ratio():
    def everywhere(values, rpm):
        return 0.96 * values

    assert pull_with(rotor_speed=everywhere).faults == ()
    assert [fault.kind for fault in pull_with(settings=GEARED, rotor_speed=everywhere).faults] == ["belt slip"]


def test_a_pickup_that_misses_teeth_is_not_a_slipping_belt():
    def missing(values, rpm):
        return np.where((rpm > 4500) & (rpm < 4530), 0.5 * values, values)

    assert pull_with(rotor_speed=missing).faults == ()


@pytest.mark.parametrize("depth", [0.09, 0.16])
def test_a_misfire_is_a_dent(depth):
    (fault,) = pull_with(torque=dented(depth, 4300, 4600)).faults
    assert fault.kind == "misfire"
    assert fault.size == pytest.approx(depth, abs=0.012)
    assert fault.from_speed * 60 == pytest.approx(4300, abs=130)
    assert fault.to_speed * 60 == pytest.approx(4600, abs=130)
    assert fault.sentence.startswith("torque is dented by up to ")


def test_a_dent_of_three_per_cent_may_be_the_engines_own():
    assert pull_with(torque=dented(0.03, 4300, 4600)).faults == ()


def test_a_frozen_torque_sensor_masks_its_rows():
    pull = pull_with(torque=frozen_between(4000, 4600))
    (fault,) = pull.faults[:1]
    assert fault.kind == "sensor frozen"
    assert fault.sentence == "torque stands still from 3999 to 4592 rpm"
    assert pull.masked["sensor frozen"] == pytest.approx(199, abs=2)
    assert np.isnan(pull.values["torque"]).sum() == 4


def test_a_frozen_boost_sensor_masks_boost_alone():
    pull = pull_with(manifold_pressure=frozen_between(4000, 4600))
    assert [fault.kind for fault in pull.faults] == ["sensor frozen"]
    assert "sensor frozen" not in pull.masked
    assert np.isnan(pull.values["manifold_pressure"]).sum() == 4
    assert np.isfinite(pull.values["torque"]).all()


@pytest.mark.parametrize("resolution", [1e3, 2e3])
def test_a_coarse_sensor_is_not_a_frozen_one(resolution):
    def coarse(values, rpm):
        return (
            np.round((150e3 + 4e3 * (rpm - 2500) / 3500) / resolution) * resolution * np.where(values > 100e3, 1, 0.3)
        )

    assert pull_with(manifold_pressure=coarse).faults == ()
