"""Energy from sampled power against scipy, closed forms and the error bound of the rule (Atkinson 1989); known starts."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import trapezoid

from evenhand.frames.lined_up import find_rise
from evenhand.frames.model import Sensor
from evenhand.frames.sensors import Clock, SensorLog
from evenhand.measures.energy import integral, run_sensors


def test_same_as_scipy_between_samples() -> None:
    """scipy.integrate.trapezoid over the same samples, in uneven steps."""
    rng = np.random.default_rng(3)
    at = np.cumsum(rng.uniform(0.5, 1.5, 400))
    watts = 90 + 30 * rng.standard_normal(400)
    found = integral(at, watts, at[20], at[350])
    assert found == pytest.approx(float(trapezoid(watts[20:351], at[20:351])), rel=1e-12)


def test_closed_form_of_a_straight_line_from_anywhere_to_anywhere() -> None:
    """∫ (100 + 2 t) dt = 100 (b - a) + b² - a²: trapezoids are exact on a straight line, also between samples."""
    at = np.arange(0.0, 61.0)
    found = integral(at, 100 + 2 * at, 3.7, 41.3)
    assert found == pytest.approx(100 * (41.3 - 3.7) + 41.3**2 - 3.7**2, rel=1e-12)


def test_closed_form_of_a_sine_within_the_error_bound_of_the_rule() -> None:
    """|error| <= (b - a) h² max|f''| / 12: Atkinson, K. (1989), An Introduction to Numerical Analysis, 5.1 (from memory)."""
    step = 0.1
    at = np.arange(0.0, 60.0 + step / 2, step)
    found = integral(at, 120 + 20 * np.sin(at), 0.0, 60.0)
    true = 120 * 60 + 20 * (1 - np.cos(60.0))
    assert found is not None and abs(found - true) <= 60 * step**2 * 20 / 12


def test_units() -> None:
    """150 W over 60 s are 9000 J; over 6000 frames that is 1.5 J a frame, two frames in three joules."""
    at = np.arange(0.0, 100.0)
    log = SensorLog(Clock.ELAPSED, at, {Sensor.POWER: np.full(100, 150.0)})
    found = run_sensors(log, 20.0, 80.0, 6000, "clock times", 1.0)
    assert found.power == pytest.approx(150.0)
    assert found.energy == pytest.approx(1.5)
    assert found.frames_per_joule == pytest.approx(2 / 3)


def test_what_is_not_known_is_not_stated() -> None:
    at = np.arange(0.0, 100.0)
    watts = np.full(100, 150.0)
    assert integral(at, watts, -1.0, 50.0) is None
    assert integral(at, watts, 50.0, 99.5) is None
    holed = watts.copy()
    holed[40:44] = np.nan
    assert integral(at, holed, 20.0, 80.0) == pytest.approx(9000.0)
    holed[40:60] = np.nan
    assert integral(at, holed, 20.0, 80.0) is None


@pytest.mark.parametrize("start", [12.3, 20.0, 33.8, 47.1])
@pytest.mark.parametrize("sensor", [Sensor.GRAPHICS_LOAD, Sensor.POWER])
def test_a_known_start_is_found_within_its_uncertainty(start: float, sensor: Sensor) -> None:
    """Made-up logs of one sample a second: idle at 35, in the scene at 95, noise of 2, then idle again."""
    rng = np.random.default_rng(int(10 * start))
    at = np.arange(0.0, 140.0) + 0.2
    busy = (at >= start) & (at < start + 60)
    found = find_rise(SensorLog(Clock.ELAPSED, at, {sensor: np.where(busy, 95.0, 35.0) + 2 * rng.standard_normal(at.size)}), 60.0)
    assert found is not None and found.by is sensor
    assert abs(found.at - start) <= found.unsure_s <= 0.5 + 1e-9


def test_no_start_is_made_up() -> None:
    rng = np.random.default_rng(5)
    at = np.arange(0.0, 140.0)
    for values in (95 + 2 * rng.standard_normal(140), np.linspace(30, 60, 140) + 5 * rng.standard_normal(140)):
        assert find_rise(SensorLog(Clock.ELAPSED, at, {Sensor.POWER: values}), 60.0) is None
