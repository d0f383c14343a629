from __future__ import annotations

import pytest

from kiosk.site.site_toml import DARK_GROUND, LIGHT_GROUND, contrast, readable_on


def test_contrast_runs_from_one_to_twenty_one() -> None:
    """WCAG 2.2, definition of contrast ratio: black on white is 21 to 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#888888", "#888888") == pytest.approx(1)


def test_the_lightest_grey_readable_on_white_is_the_known_one() -> None:
    """#767676 is commonly named as the lightest grey with 4.5 to 1 on white (from memory); #777777 fails."""
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_a_colour_fit_for_one_ground_may_not_be_fit_for_the_other() -> None:
    assert readable_on("#24512f", LIGHT_GROUND)
    assert not readable_on("#24512f", DARK_GROUND)
