"""Facts with their own plus-minus, as people write them."""

import pytest
from pydantic import ValidationError

from passband.analysis.given.car import Air, Car


@pytest.mark.parametrize(
    ("written", "value", "half"),
    [
        ("958 kg +- 2 kg", 958.0, 2.0),
        ("958 kg ± 2", 958.0, 2.0),
        ("958 ± 2 kg", 958.0, 2.0),
        ("958 kg +/- 0.5 %", 958.0, 4.79),
        # Hand: 2112 lb x 0.45359237, 5 lb likewise
        ("2112 lb + - 5 lb", 957.987, 2.26796),
        ("958 +- 2", 958.0, 2.0),
    ],
)
def test_a_mass_and_its_half_width_are_parted(written, value, half):
    car = Car(name="Dunlin", mass=written)
    assert car.mass == pytest.approx(value, abs=1e-3)
    assert car.plus_minus["mass"] == pytest.approx(half, rel=1e-5)


def test_per_cent_of_a_share_written_in_per_cent_are_points():
    assert Car(name="x", driveline_efficiency="91 % +- 3 %").plus_minus == {"driveline_efficiency": pytest.approx(0.03)}
    share = Car(name="x", driveline_efficiency="0.91 +- 3 %").plus_minus["driveline_efficiency"]
    assert share == pytest.approx(0.0273)


def test_degrees_are_differences():
    # Hand: 2 degF are 1.111 K, whatever they are counted from
    air = Air(temperature="75 degF +- 2 degF", wind="-1 m/s +- 0.5 m/s")
    assert air.plus_minus == {"temperature": pytest.approx(1.1111, abs=1e-4), "wind": 0.5}


def test_what_was_kept_reads_as_it_was_given():
    car = Car(name="x", mass="958 kg +- 2 kg", drag_area="0.56 m^2 ± 5 %")
    assert Car(**car.model_dump()) == car


def test_half_widths_may_stand_in_a_table_of_their_own():
    car = Car(name="x", mass="958 kg", plus_minus={"mass": "2 kg"})
    assert car.plus_minus == {"mass": 2.0}


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"bore": "86 mm +- 1 mm"}, "takes no plus-minus.*write '86 mm' alone"),
        ({"mass": "958 kg +- 2 m"}, "plus-minus of '958 kg"),
        ({"mass": "958 kg +- x"}, "mass"),
        ({"plus_minus": {"bore": 1.0}}, "bore takes no plus-minus"),
        ({"plus_minus": {"mass": -1.0}}, "from 0 up"),
        ({"plus_minus": {"wind": 1.0}}, "wind takes no plus-minus"),
    ],
)
def test_what_cannot_be_is_refused_with_what_it_was(facts, said):
    with pytest.raises(ValidationError, match=said):
        Car(name="x", **facts)
