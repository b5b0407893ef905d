"""The guides: what they name exists, what they have to say they say, their examples are right."""

import csv
import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from drainscale import cli
from drainscale.agent.bench_file import SECTIONS as BENCH_SECTIONS
from drainscale.agent.calibrate.command import parser as calibrate_parser
from drainscale.agent.calibrate.command import usual_weights_kg
from drainscale.agent.selftest.findings import Part
from drainscale.budget.terms import terms_of
from drainscale.ports import LAMPS
from drainscale.recording.job_rules import SECTIONS
from electrical.netlist import Bench
from mechanical.params import PLATFORMS, read_params
from mechanical.stops import Placed, PlatformBending, check_stops
from products import HARDWARE, ROOT

DOCS = HARDWARE / "docs"
GUIDES = sorted(DOCS.glob("*.md"))
WRITTEN = [path for path in GUIDES if path.name != "mechanics.md"]  # that one is generated
LINK = re.compile(r"\]\((?!https?:)([^)#\s]+)")
# a reference of the lists of parts; threads (M6, and M1 of weights) are none of them
REF = re.compile(r"\b(?:PS|LC|TC|SP|LD|TV|[AFHJPQSUWX])\d+\b")


def text_of(name: str) -> str:
    return " ".join((DOCS / name).read_text(encoding="utf-8").split())


def known_refs() -> set[str]:
    refs: set[str] = set()
    for path in (HARDWARE / "bom.csv", HARDWARE / "cad/parts.csv"):
        with path.open(encoding="utf-8", newline="") as lines:
            refs |= {ref for row in csv.DictReader(lines) for ref in row["ref"].split()}
    return refs


@pytest.mark.parametrize("path", GUIDES, ids=lambda path: path.stem)
def test_links_and_figures_lead_to_a_file(path: Path) -> None:
    missing = [
        link for link in LINK.findall(path.read_text(encoding="utf-8"))
        if not (path.parent / link).exists()
    ]  # fmt: skip
    assert not missing


def test_every_figure_is_shown_in_a_guide() -> None:
    shown = {link for path in GUIDES for link in LINK.findall(path.read_text(encoding="utf-8"))}
    assert {f"figures/{path.name}" for path in (DOCS / "figures").iterdir()} <= shown


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: path.stem)
def test_parts_that_a_guide_names_are_in_the_lists(path: Path) -> None:
    assert set(REF.findall(path.read_text(encoding="utf-8"))) <= known_refs()


def test_assembly_uses_every_made_part_and_every_bought_one() -> None:
    needed = {ref for ref in known_refs() if re.fullmatch(r"[PH]\d+", ref)}
    assert needed - set(REF.findall((DOCS / "assembly.md").read_text(encoding="utf-8"))) == set()


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: path.stem)
def test_commands_that_a_guide_names_exist_with_their_options(path: Path) -> None:
    named = re.findall(r"drainscale ([a-z]+)((?: --[\w-]+)*)", path.read_text(encoding="utf-8"))
    for command, options in named:
        assert command in cli.commands()
        entry = (ROOT / "docs/reference/command-line.md").read_text(encoding="utf-8")
        part = entry.split(f"## `drainscale {command}`")[1].split("\n## ")[0]
        assert all(option in part for option in options.split())


def test_keys_of_bench_file_and_job_that_are_named_exist() -> None:
    keys = {key for rules in (*SECTIONS.values(), *BENCH_SECTIONS.values()) for key in rules.rules}
    text = " ".join(path.read_text(encoding="utf-8") for path in WRITTEN)
    words = set(re.findall(r"`(\w+_\w+)(?:`| =)", text))
    assert {"repeatability_u_kg", "density_u_kg_per_m3", "sensor_u_C"} <= words
    assert words <= keys


@pytest.mark.parametrize("path", [*WRITTEN, HARDWARE / "README.md"], ids=lambda path: path.stem)
def test_each_page_is_honest_about_the_status(path: Path) -> None:
    if path.name != "disposal.md":
        assert "esigned and simulated, not yet built" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: path.stem)
def test_each_guide_leads_to_the_safety_page(path: Path) -> None:
    assert path.name in ("safety.md", "disposal.md") or "(safety.md)" in path.read_text("utf-8")


# what the safety page has to say, in words that stand there
SAYS = [
    "Never under a vehicle that only a jack holds", "stands rated for the vehicle",
    "shifted through the gears", "stay clear of belts", "carbon monoxide", "exhaust outdoors",
    "60 °C and more burns", "goggles and oil-proof gloves", "fire extinguisher", "closed metal bin",
    "flash point of 150 to 220 °C", "Only extra-low voltage", "residual-current device",
    "No mains under the vehicle", "no power from the vehicle's battery", "not explosion-protected",
    "petrol", "solvent vapour", "service information", "not approved for trade", "plus 20 %",
    "90 % full", "under-voltage", "scale or thermocouple fault", "collection point",
]  # fmt: skip


@pytest.mark.parametrize("words", SAYS)
def test_safety_page_says_it(words: str) -> None:
    assert words in text_of("safety.md")


# --- bring-up -------------------------------------------------------------------------------------


def selftest_rows() -> dict[str, list[str]]:
    section = (DOCS / "bring-up.md").read_text(encoding="utf-8").split("## C.")[1].split("## D.")[0]
    rows = re.findall(r"(?m)^\| ([a-z ]+) \| ([\w, ]+) \|", section)
    return {part: checks.split(", ") for part, checks in rows if part != "part"}


def selftest_checks() -> dict[str, set[str]]:
    """What the self-test's code can say, by module: the words of its findings."""
    folder = ROOT / "firmware/drainscale/agent/selftest"
    makers = "|".join(name for name in vars(Part) if not name.startswith("_"))
    calls = re.compile(rf'\.(?:{makers})\(\s*"([^"]+)"')
    names = ("house", "thermocouple", "scale", "people")
    found = {name: set(calls.findall((folder / f"{name}.py").read_text("utf-8"))) for name in names}
    found["people"] |= set(LAMPS)
    return found


def test_test_sheet_has_the_checks_of_the_self_test() -> None:
    rows, checks = selftest_rows(), selftest_checks()
    assert {"opens", *rows["thermocouple"]} - {"opens"} == checks["thermocouple"] - {
        "opens",
        "reads",
    }
    assert set(rows["drain scale"]) == checks["scale"] - {"reads"}
    house = {*rows["wall clock"], *rows["spool"], *rows["broker"]}
    assert house == checks["house"] | {"set"}
    people = {*rows["foot switch"], *rows["lamps"], *rows["sounder"]}
    assert people | {"opens", "shows"} == checks["people"] | {"beeps", "opens", "shows"}


@pytest.mark.parametrize(
    ("row", "rail"),
    [
        ("supply PS1 alone, at the plug", "5V_IN"),
        ("places 2 and 6 of J1", "5V"),
        ("supply pins of A2 (and A3) to ground", "3V3"),
        ("places 1 and 3 of J4, pod off", "3V3_POD"),
    ],
)
def test_voltages_of_the_first_switch_on_are_those_of_the_rails(
    row: str, rail: str, kit: Bench
) -> None:
    limits, circuit = kit.circuit.rails[rail], kit.circuit
    assert f"| {row} | {limits.min_V:g} V to {limits.max_V:g} V | |" in text_of("bring-up.md")
    assert circuit.net["J1.2"] == "5V"
    assert circuit.net["J1.1"] == circuit.net["A2.VDD"] == "3V3"
    assert circuit.net["J4.1"] == "3V3_POD"
    assert circuit.net["J1.6"] == circuit.net["J4.3"] == "GND"


def test_lamps_of_the_test_sheet_stand_in_their_order() -> None:
    assert tuple(selftest_rows()["lamps"]) == LAMPS


def test_stops_are_checked_with_what_the_mechanics_sheet_says_they_bear() -> None:
    sheet, gap = text_of("bring-up.md"), read_params().platform["drain"].stop_gap
    widest = gap + read_params().fit.stop_gap_plus
    for words in (sheet, text_of("assembly.md").replace("0.50 mm", "0.5 mm")):
        assert f"{gap:g} mm goes, {widest:g} mm does not" in words
    clear = check_stops("drain").clear
    assert clear["12 kg in the middle"] > 0.1  # the feeler that has to go through
    # no feeler is thin enough for what is left there: a stop that touches is found by weight
    assert clear["12 kg, 50 mm off towards a corner"] < 0.1
    assert "50 mm off the middle towards each corner, then 200 g more on it" in sheet


def test_loads_of_the_checks_are_what_each_platform_is_made_for() -> None:
    platforms = read_params().platform
    drain_kg, supply_kg = (platforms[name].working_kg for name in ("drain", "supply"))
    assert f"| {drain_kg:g} kg in the middle |" in text_of("bring-up.md")
    assert f"with **{supply_kg:g} kg** in place of {drain_kg:g}" in text_of("bring-up.md")
    assert f"{drain_kg:g} kg in the middle ({supply_kg:g} kg on the" in text_of("maintenance.md")
    assert supply_kg < read_params().cell["supply"].capacity_kg < drain_kg


def test_touch_tests_limit_is_the_one_of_the_budget() -> None:
    (touch,) = [term for term in terms_of("c3") if term.name.startswith("touch")]
    for name in ("bring-up.md", "maintenance.md", "calibration.md"):
        assert f"200 ± {1000.0 * touch.kg:g} g" in text_of(name)


# what a builder asks at each step, in words that stand there
TOLD = [
    "P1 from **below**, P2 from **above**", "socket downwards", "Rest the base on two blocks",
    "touches **no** copper", "more than 10 MΩ", "Press the button in until 1 mm stands out",
    "green is +, white is −", "**Blue (BU) is spare**", "+ of all four lamps and to + of SP1",
    "to 3.3 V, **never** 5 V", "a board with one supply pin", "RATE pin low", "seen from outside",
    "turned round, it puts 5 V on signal pins", "COM is the contact that both others share",
]  # fmt: skip


@pytest.mark.parametrize("words", TOLD)
def test_assembly_tells_what_is_easily_done_wrong(words: str) -> None:
    assert words in text_of("assembly.md")


def test_spares_and_polarities_of_the_assembly_are_those_of_the_circuit(kit: Bench) -> None:
    cables = {cable.ref: cable for cable in kit.circuit.cables}
    assert cables["W6"].spare == ["BU"]
    five_V = [colour for colour, near, _ in cables["W6"].wires
              if kit.circuit.net[near] == "5V_HEAD"]  # fmt: skip
    assert five_V == ["BN", "RD"]
    assert {colour: far for colour, _, far in cables["W4"].wires} == {"GN": "TC1.+", "WH": "TC1.-"}
    assert kit.circuit.net["C3.1"] == kit.circuit.net["D1.K"] == "5V_HEAD"
    text = (HARDWARE / "wiring/carrier.md").read_text(encoding="utf-8")
    assert "| C3 | plus (the longer wire) to 5V_HEAD" in text
    assert "| D1 | the ring is K, to 5V_HEAD |" in text


def test_button_stands_out_by_what_the_drawing_says() -> None:
    assert f"until {read_params().pan_button.proud:g} mm stands out" in text_of("assembly.md")


def test_gap_and_torque_of_the_assembly_are_those_of_the_parameters() -> None:
    text, params = text_of("assembly.md"), read_params()
    assert f"feeler gauge of {params.platform['drain'].stop_gap:g} mm" in text
    assert f"about {params.cell['drain'].tightening_Nm:g} Nm" in text
    assert f"hangs {params.lip.clearance:g} mm beside the base" in text


# --- calibration ----------------------------------------------------------------------------------


def water_kg_per_m3(water_C: float) -> float:
    """Density of air-free water at 1013.25 hPa.

    Source:
        M. Tanaka et al., Metrologia 38 (2001) 301, recommended by the CIPM; coefficients from
        memory, checked below against its printed values.
    """
    a1, a2, a3, a4, a5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950
    return a5 * (1.0 - (water_C + a1) ** 2 * (water_C + a2) / (a3 * (water_C + a4)))


# IAPWS-95 at 101.325 kPa, kg/m3 (handbook tables, from memory)
@pytest.mark.parametrize(
    ("water_C", "published"),
    [(4.0, 999.97), (15.0, 999.10), (20.0, 998.21), (25.0, 997.05), (30.0, 995.65)],
)
def test_water_of_the_tests_is_that_of_the_tables(water_C: float, published: float) -> None:
    assert water_kg_per_m3(water_C) == pytest.approx(published, abs=0.006)


def shown_g_per_L(density: float) -> float:
    """What a litre shows on a scale adjusted with steel weights (OIML D 28)."""
    return (density - 1.2) / (1.0 - 1.2 / 8000.0)


def test_water_table_of_the_guide_is_right_to_its_last_digit() -> None:
    text = (DOCS / "calibration.md").read_text(encoding="utf-8")
    found = re.findall(r"(?m)^\| (\d\d) \| ([\d.]+) \| ([\d.]+) \|$", text)
    rows = [tuple(map(float, row)) for row in found]
    assert len(rows) == 6
    assert f"of 20 °C *shows* {shown_g_per_L(water_kg_per_m3(20.0)):.1f} g" in text
    assert all(before[0] < after[0] for before, after in pairwise(rows))
    for water_C, density, shown in rows:
        assert density == pytest.approx(water_kg_per_m3(water_C), abs=0.05)
        assert shown == pytest.approx(shown_g_per_L(water_kg_per_m3(water_C)), abs=0.051)


@pytest.fixture
def example() -> Callable[[str], float]:
    """A number of the worked example, by the words before it."""
    text = text_of("calibration.md").split("**Worked example**")[1].replace("−", "-")

    def number(before: str) -> float:
        found = re.search(re.escape(before) + r" ?([\d.]+\d)", text)
        assert found, before
        return float(found[1])

    return number


def test_worked_density_is_that_of_the_three_weighings(example: Callable[[str], float]) -> None:
    m0, m1, m2 = (example(f"{name} =") for name in ("m₀", "m₁", "m₂"))
    ratio = (m2 - m0) / (m1 - m0)
    water = water_kg_per_m3(22.0)
    assert example("m(water) =") == pytest.approx(m1 - m0)
    assert example("ratio") == pytest.approx(ratio, abs=5e-6)
    # equilibrium of the forces in air of 1.2 kg/m3: rho - rho_a goes with what is shown
    exact = 1.2 + (water - 1.2) * ratio
    assert example("so") == pytest.approx(exact, abs=0.1)
    assert example("density_kg_per_m3 =") == example("so")


def test_worked_uncertainty_is_that_of_its_causes(example: Callable[[str], float]) -> None:
    reading_g, water_g, oil_g = example("u:"), example("m(water) ="), example("m(oil) =")
    apart = 1.5 * 7e-4 / 3.0**0.5  # 0.07 % a kelvin
    relative = ((reading_g / water_g) ** 2 + (reading_g / oil_g) ** 2 + apart**2) ** 0.5
    assert 100.0 * relative == pytest.approx(example("(rectangular):"), abs=0.005)
    assert example("density_u_kg_per_m3 =") == pytest.approx(relative * example("so"), abs=0.1)


def test_the_ratios_span_error_cancels() -> None:
    shown = [1.004 * one for one in (78.4, 2071.8, 1768.3)]  # a scale that is 0.4 % off
    assert (shown[2] - shown[0]) / (shown[1] - shown[0]) == pytest.approx(1689.9 / 1993.4)


def test_calibration_asks_for_the_weights_that_the_guide_says() -> None:
    assert calibrate_parser().parse_args(["--config", "bench.toml"]).weights is None
    for kg, step in ((20.0, 2), (10.0, 1)):
        weights = usual_weights_kg(kg)
        up = sorted(set(weights))
        assert up == [step * n for n in range(6)]
        assert list(weights) == [*up, *up[-2::-1]]
        assert f"0 to {5 * step} kg in steps of {step} kg" in text_of("calibration.md")


@pytest.mark.parametrize("name", PLATFORMS)
def test_no_weight_of_the_calibration_reaches_a_stop(name: str) -> None:
    params = read_params()
    heaviest_kg = max(usual_weights_kg(params.cell[name].capacity_kg))
    closes = PlatformBending(params, name).closes(Placed(heaviest_kg, radius=40.0))
    assert max(closes.values()) < 0.8 * params.platform[name].stop_gap
