"""Lines rounded and flattened, against plain geometry (worked beside each)."""

from __future__ import annotations

import numpy as np
import pytest

from checker.geometry.plan import Path, flattened, rounded, straight
from tests.geometry.drawings import CORNER


def test_a_right_corner_takes_two_tangents_and_gives_a_quarter_circle() -> None:
    line = rounded(np.array([(0, 0), (4, 0), (4, 3)]), 0.1)
    # 4 + 3 m of sides, 2 · 0.1 m of tangents less, 0.1 · π/2 m of arc more.
    assert line.length == pytest.approx(7 - 0.2 + 0.1 * np.pi / 2, abs=1e-12)
    assert line.length == pytest.approx(7 - CORNER * 0.1, abs=1e-12)
    assert line.radii[1] == pytest.approx(0.1)


def test_a_corner_of_sixty_degrees_has_its_own_tangents() -> None:
    end = np.array([5 + 5 * np.cos(np.radians(60)), 5 * np.sin(np.radians(60))])
    line = rounded(np.array([(0, 0), (5, 0), end]), 0.5)
    # Tangent r·tan(30°), arc r·60° in radians.
    wanted = 10 - 2 * 0.5 * np.tan(np.radians(30)) + 0.5 * np.radians(60)
    assert line.length == pytest.approx(wanted, abs=1e-12)


def test_two_corners_share_a_side_that_is_too_short_for_both() -> None:
    line = rounded(np.array([(0, 0), (4, 0), (4, 0.2), (0, 0.2)]), 0.15)
    # Within 200 mm a pipe turns back by a half circle of 100 mm.
    assert line.length == pytest.approx(2 * 3.9 + np.pi * 0.1, abs=1e-12)
    assert np.min(line.radii) == pytest.approx(0.1)


def test_a_corner_that_leads_straight_back_stays() -> None:
    line = rounded(np.array([(0, 0), (4, 0), (1, 0)]), 0.1)
    assert line.length == pytest.approx(7)
    assert not line.bulges.any()


def test_repeated_points_are_one() -> None:
    assert straight(np.array([(0, 0), (1, 0), (1, 0), (2, 0)])).points.tolist() == [
        [0, 0],
        [1, 0],
        [2, 0],
    ]


def test_a_half_circle_to_the_left_passes_below() -> None:
    # In DXF, whose bulges these are, a positive one turns counter-clockwise.
    circle = Path(np.array([(0.0, 0.0), (2.0, 0.0)]), np.array([1.0]))
    points, lengths, _ = flattened(circle)
    assert np.allclose(np.hypot(points[:, 0] - 1, points[:, 1]), 1)
    assert points[:, 1].min() == pytest.approx(-1)
    assert lengths.sum() == pytest.approx(np.pi)
