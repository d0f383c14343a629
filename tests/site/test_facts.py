from __future__ import annotations

import pytest

from kiosk.site.facts import Fact, read_facts
from kiosk.site.faults import Fault
from kiosk.site.reader import Where, read_toml
from kiosk.site.shipped import shipped


def test_the_shipped_facts_are_right_and_each_names_its_source() -> None:
    faults: list[Fault] = []
    facts = read_facts(*read_toml(shipped("content") / "facts.toml", "facts.toml", faults))
    assert not faults
    assert facts["us_standard_drink"].value == 0.6
    assert all(len(fact.source) > 10 for fact in facts.values())


def test_pure_ethanol_is_as_dense_as_the_figures_have_it() -> None:
    """OIML R 22 (1975): 789.24 kg/m³ at 20 °C, here and in the calculation."""
    from kiosk.figures.strength import density

    facts = read_facts(*read_toml(shipped("content") / "facts.toml", "facts.toml", []))
    assert density(1.0, 20.0) == pytest.approx(facts["ethanol_density"].value, abs=0.005)


def test_what_is_computed_is_computed_right() -> None:
    facts = read_facts(*read_toml(shipped("content") / "facts.toml", "facts.toml", []))
    assert facts["left_after_twelve_years"].value == round(100 * (1 - 0.08) ** 12, 1)
    assert facts["half_ounce_in_us_drinks"].value == round(0.5 * 0.4 / 0.6, 2)
    assert facts["alcohol_from_sugar"].value == round(100 * 92.1 / 180.2, 1)
    assert facts["gas_from_sugar"].value == round(100 - 100 * 92.1 / 180.2, 1)


def test_the_riddle_of_water_and_spirit_is_that_of_the_density_tables() -> None:
    """OIML R 22 at 20 °C: 100 L at 70 % vol, brought to 40 % vol, take 77.49 L of water and make 175.0 L."""
    from kiosk.figures.strength import density, mass_fraction_of_abv

    facts = read_facts(*read_toml(shipped("content") / "facts.toml", "facts.toml", []))
    strong, label = (mass_fraction_of_abv(abv) for abv in (facts["riddle_strength"].value, 40.0))
    spirit_kg = facts["riddle_spirit"].value * density(strong, 20.0)
    mixture_kg = spirit_kg * strong / label
    assert facts["riddle_water"].value == round((mixture_kg - spirit_kg) / density(0.0, 20.0), 1)
    assert facts["riddle_mixture"].value == round(mixture_kg / density(label, 20.0))
    assert facts["water_density"].value == round(density(0.0, 20.0), 1)


@pytest.mark.parametrize(("value", "digits"), [(6, 0), (0.6, 1), (789.24, 2), (10.0, 0), (100, 0), (1e-3, 3)])
def test_a_fact_is_written_with_its_own_decimals(value: float, digits: int) -> None:
    assert Fact(value, "", "", "a source", None, "read").digits == digits


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ({"value": "six", "source": "x", "status": "read"}, 'a_fact.value: found "six". Allowed: a number'),
        ({"value": True, "source": "x", "status": "read"}, "a_fact.value: found true"),
        ({"value": 6, "status": "read"}, "a_fact.source is missing. Needed: where the value was read"),
        ({"value": 6, "source": "x"}, "a_fact.status is missing. Needed: one of read, quoted"),
        ({"value": 6, "source": "x", "status": "recalled"}, 'found "recalled". Allowed: one of read, quoted'),
        ({"value": 6, "source": "x", "status": "read", "year": 75}, "a_fact.year: found 75. Allowed: a year"),
        ({"value": 6, "source": "x", "status": "read", "units": "g"}, "a_fact.units: found"),
        (6, "a_fact: found 6. Allowed: a table with these keys: value, unit"),
    ],
)
def test_a_fact_without_its_source_is_none(entry: object, told: str) -> None:
    faults: list[Fault] = []
    assert not read_facts({"a_fact": entry}, Where("facts.toml", "", faults))
    assert told in faults[0].sentence()
