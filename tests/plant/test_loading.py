"""Site files that are right: the samples, values in other units, unknown values, datasheets, the template."""

from __future__ import annotations

import re
import typing
from collections import defaultdict
from typing import Any

import pytest

from commission.errors import SiteError
from commission.figure import Figure, Leaf, Quantity, Unknown
from commission.plant.files import load_plant, plant_of
from commission.plant.places import data_folder, sample_sites
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Site
from commission.plant.template import new_site, template_path
from commission.plant.toml import parsed
from commission.plant.values import UNKNOWN, Measured, Model
from tests.plant.sites import NOWHERE, SAMPLES, content, problems


def _value(quantity: Quantity) -> float:
    assert isinstance(quantity, Figure)
    return quantity.value


# the samples


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_sample_loads_without_a_warning(path):
    loaded = load_plant(path)
    assert [str(warning) for warning in loaded.warnings] == []
    assert loaded.plant.site.site.id == path.stem


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_sample_says_that_it_is_invented_and_explains_its_parts(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    assert any("is invented" in line for line in lines)
    assert sum(line.startswith("# ") for line in lines) >= 12


def test_the_samples_are_many_and_different():
    plants = [load_plant(path).plant for path in sample_sites()]
    assert len(plants) >= 9
    assert len({plant.battery.id for plant in plants}) >= 9
    assert {plant.site.coordination.kind for plant in plants} == {"none", "own outputs", "bank current"}
    assert {plant.rules.id for plant in plants} == {"north-america", "iec-230"}
    assert {"positive", "negative", "floating"} <= {plant.site.earthing.dc for plant in plants}
    assert {
        round(plant.bank.cells * _value(plant.cell("nominal_cell_voltage")) / 12) for plant in plants
    } == {
        1,
        2,
        4,
    }


def test_every_field_of_a_site_is_used_by_a_sample():
    used: dict[type[Model], set[str]] = defaultdict(set)
    for path in SAMPLES:
        _note_fields(load_plant(path).plant.site, used)
    unused = {kind.__name__: set(kind.model_fields) - fields for kind, fields in used.items()}
    assert {name: fields for name, fields in unused.items() if fields} == {}


def _note_fields(model: Model, used: dict[type[Model], set[str]]) -> None:
    used[type(model)] |= model.model_fields_set & set(type(model).model_fields)
    for field in type(model).model_fields:
        value = getattr(model, field)
        for item in value if isinstance(value, tuple) else [value]:
            if isinstance(item, Model):
                _note_fields(item, used)


# units


def test_text_with_a_unit_is_the_same_as_the_number():
    site = content()
    site["runs"][0] |= {"length": "40 ft", "area": "2/0 AWG", "ambient": "-20 °F", "torque": "95 lb·in"}
    run = plant_of(site, NOWHERE).plant.site.runs[0]
    assert run.length == pytest.approx(12.192)  # 1 ft = 0.3048 m
    assert run.area == pytest.approx(67.43, abs=0.005)  # ASTM B258
    assert run.ambient == pytest.approx(-28.889, abs=0.001)
    assert run.torque == pytest.approx(10.734, abs=0.001)  # 1 lbf·in = 0.112985 N·m


def test_values_of_the_samples_in_us_units_are_held_in_metric_ones():
    place = load_plant(data_folder("sample_sites") / "skarnow-lodge.toml").plant.site.site
    assert place.altitude == pytest.approx(2407.9, abs=0.1)
    assert place.coldest_ambient == pytest.approx(-31.67, abs=0.01)
    assert place.longest_time_without_charge == 14 * 86400


# unknown


def _measured_fields(model: type[Model]) -> list[str]:
    return [name for name, info in model.model_fields.items() if _is_measured(info)]


def _is_measured(info: Any) -> bool:
    members = [info, *typing.get_args(info.annotation)]
    found = [item for member in members for item in (getattr(member, "metadata", None) or _metadata(member))]
    return any(isinstance(item, Measured) for item in found)


def _metadata(member: Any) -> tuple[Any, ...]:
    return getattr(member, "__metadata__", ())


def _with_unknown(value: Any, model: type[Model]) -> int:
    """Put the word unknown at every measured field of a model's content; return how many there were."""
    fields = _measured_fields(model)
    value.update(dict.fromkeys(fields, UNKNOWN))
    return len(fields)


def test_every_measured_value_may_be_unknown():
    site = content("aldermere-clinic")
    count = 0
    for field, info in Site.model_fields.items():
        for model in _models_in(info.annotation):
            content_of = site.get(field)
            for item in content_of if isinstance(content_of, list) else [content_of]:
                if item is not None:
                    count += _with_unknown(item, model)
    count += _with_unknown(site["bank"]["management"], _model_of(site, "bank", "management"))
    count += _with_unknown(
        site["charge_controllers"][0]["array"], _model_of(site, "charge_controllers", "array")
    )
    assert count > 100
    assert problems(site) == []


def _models_in(annotation: Any) -> list[type[Model]]:
    members = [annotation, *typing.get_args(annotation)]
    return [member for member in members if isinstance(member, type) and issubclass(member, Model)]


def _model_of(site: dict[str, Any], section: str, field: str) -> type[Model]:
    (outer,) = _models_in(Site.model_fields[section].annotation)
    (inner,) = _models_in(outer.model_fields[field].annotation)
    return inner


def test_a_reference_may_be_unknown_too():
    site = content()
    site["charge_controllers"][0] |= {"run": "unknown", "protection": "unknown", "panel": "unknown"}
    site["generators"][0] |= {"started_by": "unknown", "quiet_from": "unknown", "quiet_until": "unknown"}
    assert problems(site) == []


def test_what_is_unknown_says_what_is_missing():
    plant = load_plant(data_folder("sample_sites") / "lowmarsh-pumps.toml").plant
    (run,) = [run for run in plant.site.runs if run.id == "run-main"]
    found = part_fact(run, "length")
    assert isinstance(found, Unknown)
    assert found.missing == ("length of run-main",)


# datasheets


def test_a_datasheet_value_replaces_the_profiles_and_says_so():
    plant = load_plant(data_folder("sample_sites") / "fennick-homestead.toml").plant
    figure = plant.cell("float_voltage")
    assert isinstance(figure, Figure)
    assert figure.value == 2.23
    assert isinstance(figure.origin, Leaf)
    assert figure.origin.where == "bank.datasheet.float_voltage"
    reference = plant.voltage_reference("float_voltage")
    assert _value(reference) == pytest.approx(25.0)  # 77 °F, as the file says it


def test_a_datasheet_value_of_a_battery_may_be_text_with_its_unit():
    plant = load_plant(data_folder("sample_sites") / "fennick-homestead.toml").plant
    assert _value(plant.cell("end_current")) == pytest.approx(0.02)
    assert _value(plant.cell("absorption_time")) == 3 * 3600


def test_a_datasheet_value_outside_the_usual_range_widens_it():
    site = content()
    site["bank"]["datasheet"]["equalize_voltage"] = 2.70
    plant = plant_of(site, NOWHERE).plant
    assert plant.battery.equalize_voltage.high == 2.70
    assert plant.battery.equalize_voltage.known == "seen"


def test_a_stage_can_be_forbidden_and_a_value_withdrawn_by_the_datasheet():
    site = content()
    site["bank"]["datasheet"] |= {"equalize_voltage": "none", "peukert_exponent": "unknown"}
    plant = plant_of(site, NOWHERE).plant
    assert not plant.has_stage("equalize_voltage")
    assert isinstance(plant.cell("peukert_exponent"), Unknown)


def test_a_datasheet_of_a_device_replaces_only_what_it_names():
    plant = load_plant(data_folder("sample_sites") / "skarnow-lodge.toml").plant
    generator = plant.generator_class(plant.site.generators[0])
    assert (generator.rated_apparent_power, generator.rated_power, generator.breaker) == (18000, 18000, 80)
    assert generator.fuel == "diesel"
    assert generator.least_load == 0.3


def test_one_step_of_a_setting_can_be_replaced():
    site = content()
    change = {"settings": {"absorption_voltage": {"step": 0.4}}}
    site["inverter_chargers"][0]["datasheet"] = change
    plant = plant_of(site, NOWHERE).plant
    changed, other = (
        plant.inverter_class(device).settings["absorption_voltage"] for device in plant.site.inverter_chargers
    )
    assert (changed.step, changed.low) == (0.4, other.low)
    assert other.step != 0.4


def test_a_response_of_a_pv_inverter_is_laid_over_the_profiles():
    plant = load_plant(data_folder("sample_sites") / "skarnow-lodge.toml").plant
    first = plant.ac_pv_class(plant.site.ac_pv_inverters[0]).response
    assert first.return_ramp == 360.0
    assert first.fast_trip == 62.0  # as the profile has it


# own profiles beside the site file


def test_a_profile_beside_the_site_file_goes_before_the_programs_own(tmp_path):
    own = tmp_path / "profiles" / "batteries"
    own.mkdir(parents=True)
    text = _profile_text("flooded").replace('name = "Flooded deep-cycle lead-acid"', 'name = "Ours"')
    (own / "flooded.toml").write_text(text, encoding="utf-8")
    plant = _at(tmp_path)
    assert plant.battery.name == "Ours"


def test_a_key_that_a_profile_does_not_have_is_warned_with_its_file(tmp_path):
    own = tmp_path / "profiles" / "batteries"
    own.mkdir(parents=True)
    (own / "flooded.toml").write_text("flot_voltage = 1\n" + _profile_text("flooded"), encoding="utf-8")
    (warning,) = plant_of(content(), tmp_path / "site.toml").warnings
    assert (warning.file, warning.key) == ("flooded.toml", "flot_voltage")


def test_a_wrong_value_in_a_profile_is_told_with_its_file(tmp_path):
    own = tmp_path / "profiles" / "equipment"
    own.mkdir(parents=True)
    (own / "monitor-500a.toml").write_text('kind = "batery_monitor"\n', encoding="utf-8")
    with pytest.raises(SiteError, match=r"monitor-500a\.toml: .*kind is one of: .*battery_monitor"):
        plant_of(content(), tmp_path / "site.toml")


def _profile_text(ident: str) -> str:
    from commission.plant.files import profile_path

    return profile_path("batteries", ident).read_text(encoding="utf-8")


def _at(folder: Any) -> Plant:
    return plant_of(content(), folder / "site.toml").plant


# the template


def test_the_template_loads_as_it_stands():
    loaded = load_plant(template_path())
    assert loaded.warnings == ()


def test_every_example_in_the_template_can_be_put_to_use():
    text = template_path().read_text(encoding="utf-8")
    used, count = re.subn(r"(?m)^#(?=[\w\[])", "", text)
    assert count > 60
    loaded = plant_of(parsed(used.encode(), "template.toml"), NOWHERE)
    assert loaded.warnings == ()


_COMMON = {
    "id", "name", "firmware", "datasheet", "panel", "weight", "least_useful_current", "offset",
    "offset_reason", "on_battery_link", "protection", "silence",
}  # fmt: skip
"""What several kinds of part have, and the template explains at one of them."""


def test_every_section_and_field_of_a_site_stands_in_the_template():
    text = template_path().read_text(encoding="utf-8")
    used = parsed(re.sub(r"(?m)^#(?=[\w\[])", "", text).encode(), "template.toml")
    noted: dict[type[Model], set[str]] = defaultdict(set)
    _note_fields(plant_of(used, NOWHERE).plant.site, noted)
    told = set().union(*noted.values())
    missing = {
        f"{kind.__name__}.{field}"
        for kind, found in noted.items()
        for field in set(kind.model_fields) - found
    }
    assert {name for name in missing if name.split(".")[1] not in _COMMON} == set()
    assert told >= _COMMON
    assert noted[Site] == set(Site.model_fields)


def test_a_new_site_has_its_id_and_name_and_loads(tmp_path):
    path = new_site(tmp_path / "tarn-hut.toml", "tarn-hut", 'Hut "above" the tarn \\ ü')
    place = load_plant(path).plant.site.site
    assert (place.id, place.name) == ("tarn-hut", 'Hut "above" the tarn \\ ü')


def test_a_new_site_keeps_every_explanation(tmp_path):
    path = new_site(tmp_path / "site.toml", "hut", "Hut")
    written, template = (each.read_text(encoding="utf-8").splitlines() for each in (path, template_path()))
    changed = [(old, new) for old, new in zip(template, written, strict=True) if old != new]
    assert changed == [('id = "new-site"', 'id = "hut"'), ('name = "New site"', 'name = "Hut"')]


def test_a_file_that_exists_is_never_overwritten(tmp_path):
    path = tmp_path / "site.toml"
    path.write_text("mine")
    with pytest.raises(SiteError, match="left as it is"):
        new_site(path, "hut", "Hut")
    assert path.read_text() == "mine"


@pytest.mark.parametrize(
    ("ident", "name", "said"),
    [
        ("Hut 1", "Hut", "small letters"),
        ("", "Hut", "small letters"),
        ("hut", "a\nb", "characters that it may not have"),
        ("hut", "a" * 500, "too long"),
    ],
)
def test_an_id_or_a_name_that_cannot_stand_is_refused_before_writing(tmp_path, ident, name, said):
    with pytest.raises(SiteError, match=said):
        new_site(tmp_path / "site.toml", ident, name)
    assert list(tmp_path.iterdir()) == []


def test_a_new_site_in_a_folder_that_is_not_there_is_explained(tmp_path):
    with pytest.raises(SiteError, match="cannot be written"):
        new_site(tmp_path / "no" / "site.toml", "hut", "Hut")
