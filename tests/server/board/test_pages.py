"""The list of benches, the form of a new job, texts and units."""

import re
import tomllib
from pathlib import Path
from typing import Any

import pint
import pytest
from tests.server.board import states
from tests.server.board.browser import Browser
from tests.server.board.fake import Fake
from tests.server.board.recorded import service

import drainscale_server.board as board
from drainscale.errors import JobError
from drainscale.procedure.cautions import CAUTIONS
from drainscale.procedure.gates import GATES
from drainscale.procedure.steps import Step
from drainscale.recording.order_file import parse_order
from drainscale.signals.vocabulary import vocabulary
from drainscale_server.board.texts import catalogue, pseudo, texts_of

HERE = Path(board.__file__).parent


# --- benches -------------------------------------------------------------------------------------


def test_benches_are_listed_with_what_they_do(browser: Browser, fake: Fake) -> None:
    fake.show(states.SHUT)
    browser.open(fake.url)
    browser.until_text("#benches", "north / bay-1")
    first = browser.text("#benches li:nth-child(1)")
    assert "Aurelia Vento 2019 · AV-6S · level" in first
    assert "SHUT" in first
    assert browser.has('#benches a[href="/board/north/bay-1"]')
    offline = "offline since 2026-11-26 08:15:00 CET"  # the shop's time, as the server has it
    assert offline in browser.text("#benches li:nth-child(2)")


def test_page_without_a_bench_says_what_to_do(browser: Browser, fake: Fake) -> None:
    fake.show(0.0, is_empty=True)
    browser.open(fake.url)
    browser.until_text("#none", "No bench has reported yet.")
    assert "drainscale bench --config" in browser.text("#none")


# --- a new job -----------------------------------------------------------------------------------


def fill(browser: Browser, **values: str) -> None:
    """Type into the form."""
    for name, value in values.items():
        browser.type(f"f-{name}", value)


def test_earlier_job_fills_the_form_by_one_touch(browser: Browser, fake: Fake) -> None:
    browser.open(fake.url + "/new-job", units="metric")
    browser.until_text("#template-list", "Aurelia Vento 2019 · AV-6S")
    browser.click(".template")
    fill(browser, mileage="96000")
    browser.click("#form button[type=submit]")
    browser.until_text("#answer", "Job j-new is waiting for bay-1.")
    order = fake.asked()[0]
    read = parse_order(order["job_file"], "posted", JobError)
    limits, fluid = read.procedure, read.fluid
    assert limits.window_C == (35.0, 45.0)
    assert limits.allowance_L == 0.72
    assert fluid == service().spec.fluid
    assert order["record"] == {
        "vehicle": "Aurelia Vento 2019",
        "model": "AV-6S",
        "mileage_km": 96000,
        "fluid_name": "Blue can",
    }
    assert (order["site"], order["bench"]) == ("north", "bay-1")


def test_form_takes_us_units_and_sends_metric(browser: Browser, fake: Fake) -> None:
    browser.open(fake.url + "/new-job", units="us")
    browser.until(lambda: browser.has("#form button"), "the form")
    fill(browser, window_low="95", window_high="113", allowance="0,75", density="846")
    fill(browser, mileage="60000", vehicle="Aurelia Vento", density_at="59")
    browser.click("#form button[type=submit]")
    browser.until_text("#answer", "is waiting")
    order = fake.asked()[0]
    ureg: Any = pint.UnitRegistry()
    told = tomllib.loads(order["job_file"])
    low, high = told["procedure"]["window_C"]
    assert low == pytest.approx(ureg.Quantity(95, "degF").m_as("degC"))
    assert high == pytest.approx(ureg.Quantity(113, "degF").m_as("degC"))
    allowance_L = (0.75 * ureg.quart).m_as("L")
    assert told["procedure"]["allowance_L"] == pytest.approx(allowance_L, rel=1e-6)
    assert order["record"]["mileage_km"] == pytest.approx((60000 * ureg.mile).m_as("km"))


def test_what_is_missing_is_told_before_anything_is_sent(browser: Browser, fake: Fake) -> None:
    browser.open(fake.url + "/new-job", units="metric")
    browser.until(lambda: browser.has("#form button"), "the form")
    fill(browser, window_low="35", window_high="forty", density="846")
    browser.click("#form button[type=submit]")
    browser.until_text("#answer", "Still missing: Window of the fluid, °C, to, Put in on top")
    assert fake.asked() == []


def test_refusal_of_the_server_is_shown_as_it_comes(browser: Browser, fake: Fake) -> None:
    fake.answers(status=422, detail="window_C: 35.0 to 500.0, at most 130 °C")
    browser.open(fake.url + "/new-job")
    browser.until(lambda: browser.has(".template"), "the form")
    browser.click(".template")
    browser.click("#form button[type=submit]")
    browser.until_text("#answer", "Not taken: window_C: 35.0 to 500.0, at most 130 °C")


def test_shop_s_history_says_what_to_have_at_hand(browser: Browser, fake: Fake) -> None:
    browser.open(fake.url + "/new-job", units="metric")
    browser.until(lambda: browser.has(".template"), "the form")
    browser.click(".template")
    wanted = "Have at hand 4.10 L to 4.90 L, 5 bottles of 1.00 L (12 earlier jobs of this model)."
    browser.until_text("#supplies", wanted)


def test_record_is_completed_and_what_stands_there_stays(browser: Browser, fake: Fake) -> None:
    browser.open(fake.url + "/record-data/j-1", units="metric")
    browser.until(lambda: browser.has("#form button"), "the form")
    assert browser.run("return document.getElementById('f-lot').value") == "0815"
    fill(browser, torque_level_plug="27", oil_log="41")
    browser.click('input[name="washers"][value="level plug"]')
    browser.click('input[name="old_fluid"][value="brown"]')
    browser.click("#form button[type=submit]")
    browser.until_text("#answer", "It stands on the record.")
    assert fake.asked() == [
        {
            "old_fluid": "brown",
            "used_oil_log": "41",
            "washers_renewed": ["level plug"],
            "torques": [
                {"part": "pan bolts", "torque_Nm": 8.0},
                {"part": "fill plug", "torque_Nm": 35.0},
                {"part": "level plug", "torque_Nm": 27.0},
            ],
        }
    ]


def test_torque_is_typed_in_pound_feet_where_the_display_is_us(
    browser: Browser, fake: Fake
) -> None:
    browser.open(fake.url + "/record-data/j-1", units="us")
    browser.until(lambda: browser.has("#form button"), "the form")
    fill(browser, torque_drain_plug="20")
    browser.click("#form button[type=submit]")
    browser.until_text("#answer", "It stands on the record.")
    ureg: Any = pint.UnitRegistry()
    told = {one["part"]: one["torque_Nm"] for one in fake.asked()[0]["torques"]}
    assert told["drain plug"] == pytest.approx((20 * ureg.force_pound * ureg.ft).m_as("N*m"))
    assert told["fill plug"] == 35.0  # not what its rounded pound-feet would give


# --- texts ---------------------------------------------------------------------------------------


def test_kit_s_words_and_keys_have_their_texts() -> None:
    texts = catalogue()
    words = {name: cue.word for name, cue in vocabulary().cues.items()}
    assert words.items() <= texts["word"].items()
    assert {lamp.name for lamp in vocabulary().lamps} <= set(texts["lamp"])
    assert set(vocabulary().patterns) == set(texts["pattern"])
    assert set(Step) <= set(texts["step"])
    assert {gate.id for gate in GATES} == set(texts["gate"])
    answers = {answer.key for gate in GATES for answer in gate.answers}
    assert answers == set(texts["answer"])
    assert {caution.id for caution in CAUTIONS} <= set(texts["caution"])


def test_table_of_cues_is_the_kit_s_own(browser: Browser, fake: Fake) -> None:
    browser.open(fake.url)
    table = browser.driver.execute_async_script(
        "const done = arguments[0];"
        "import('/static/board/js/cues.js').then((found) => done([found.LAMPS, found.CUES]))"
    )
    assert table[0] == [lamp.name for lamp in vocabulary().lamps]
    for name, cue in vocabulary().cues.items():
        shown = table[1][name]
        assert (shown["lamp"], shown["pattern"]) == (cue.lamp, cue.pattern)
        sound = None if cue.sound is None else vocabulary().sounds[cue.sound]
        assert shown.get("repeat_s") == cue.repeat_s
        if sound is None:
            assert "sound" not in shown
        else:
            assert shown["sound"]["pitch_Hz"] == sound.pitch_Hz
            assert shown["sound"]["rhythm_s"] == list(sound.rhythm_s)


def test_pseudo_locale_keeps_what_is_filled_in() -> None:
    assert pseudo("in {time}") == "[îñ {time}~~]"
    assert texts_of("pseudo").keys() == catalogue().keys()
    assert texts_of("xx") == catalogue()


MOMENTS: list[tuple[float, dict[str, Any], str]] = [
    (states.RUNNING, {}, "WAIT"),
    (states.WARMING, states.PAN_FAULT, "FAULT"),
    (states.SEALING, {}, "GET READY"),
    (states.OVER, {}, "DONE"),
    (0.0, states.NO_JOB, "NO JOB"),
]
FOREIGN = """
const shown = [];
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const node = walk.currentNode;
  if (node.parentElement.closest('[lang="en"]:not(html)')) continue;
  if (!node.parentElement.checkVisibility()) continue;
  shown.push(node.textContent.trim());
}
return shown.filter((text) => text);
"""
# numbers with their signs and units, a clock, names that the server tells
NOT_FROM_THE_CATALOGUE = re.compile(
    r"[−–±]? ?[\d.:,/ ]*(L|mL|mL/min|°C|kg|± [\d.]+)?|north / bay-\d|Aurelia Vento 2019 · AV-6S"
)


def test_board_shows_no_text_from_outside_the_catalogue(browser: Browser, fake: Fake) -> None:
    browser.size("phone")
    browser.open(fake.board, lang="pseudo", units="metric")
    for t, change, word in MOMENTS:
        fake.show(t, change=change)
        browser.until_text("#word", pseudo(word))
        foreign = [text for text in browser.run(FOREIGN) if not is_ours(text)]
        assert foreign == []
        # and a longer language has its room
        assert browser.run("return document.documentElement.scrollWidth") <= 360


def is_ours(text: str) -> bool:
    """Tell whether a text is from the catalogue, or not a text."""
    is_told = NOT_FROM_THE_CATALOGUE.fullmatch(text) is not None
    return (text.startswith("[") and "‹" not in text) or is_told


def test_every_text_that_is_said_is_in_the_catalogue() -> None:
    known = {f"{section}.{key}" for section, keys in catalogue().items() for key in keys}
    sources = [*HERE.glob("static/js/*.js"), *HERE.glob("pages/*.html")]
    said: set[str] = set()
    for source in sources:
        text = source.read_text("utf-8")
        said |= set(re.findall(r'(?:say|has)\(\s*"([a-z_]+\.[\w-]+)"', text))
        said |= set(re.findall(r'data-(?:text|label)="([a-z_]+\.[\w-]+)"', text))
        said |= set(re.findall(r'"((?:forecast|figure|dock|new_job|ticks)\.[\w-]+)"', text))
    assert len(said) > 80
    assert said - known == set()


# --- units ---------------------------------------------------------------------------------------


def test_us_units_agree_with_pint(browser: Browser, fake: Fake) -> None:
    browser.open(fake.url)
    shown = browser.driver.execute_async_script(
        "const done = arguments[0];"
        "import('/static/board/js/units.js').then(({units}) => { const u = units('us');"
        "done([u.volume_L(2.5, true), u.volume_mL(250), u.flow(600), u.temperature(40),"
        " u.difference(2), u.mass(3), u.temperature(-40), u.volume_L(null)]"
        ".map((one) => one.value)) })"
    )
    ureg: Any = pint.UnitRegistry()
    assert float(shown[0]) == pytest.approx((2.5 * ureg.L).m_as("quart"), abs=5e-4)
    assert float(shown[1]) == pytest.approx((250 * ureg.mL).m_as("fluid_ounce"), abs=0.05)
    assert float(shown[2]) == pytest.approx((600 * ureg.mL).m_as("fluid_ounce"), abs=0.05)
    assert float(shown[3]) == pytest.approx(ureg.Quantity(40, "degC").m_as("degF"), abs=0.05)
    assert float(shown[4]) == pytest.approx(3.6)
    assert float(shown[5]) == pytest.approx((3 * ureg.kg).m_as("pound"), abs=5e-3)
    assert shown[6] == "−40.0"
    assert shown[7] == "–"
