"""What people write for parts, systems, kinds and checks, against what it should be taken for (tests/corpora)."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from optimiser.job_folder import known_names, package_data
from optimiser.job_folder.problems import Complaints, Place
from optimiser.model import protection
from optimiser.model.job import Fault, Part
from optimiser.model.option import Bar

CORPORA = Path(__file__).resolve().parents[2] / "corpora"
NOWHERE = Place(Complaints(), "job.toml")


def lots(name: str) -> list[str]:
    return sorted(path.stem for path in CORPORA.glob(f"{name}_*.csv"))


def rows(lot: str) -> list[tuple[str, ...]]:
    return [tuple(row.values()) for row in csv.DictReader((CORPORA / f"{lot}.csv").read_text("utf-8").splitlines())]


def read_as(part: Part, systems: str, severity: str) -> str:
    """A kind, else whether salvage is left out: the kinds for all that is left say no more than that."""
    written = Fault(id="f", severity=severity, systems=tuple(filter(None, systems.split("|"))))
    fault, read = known_names.fault(written, NOWHERE), known_names.part(part, NOWHERE)
    unsaid = protection.barred(read, fault, "salvage") == Bar.KIND_NOT_SAID
    kind = protection.kind_of(read, fault)
    if unsaid or kind in ("coupling-or-lifting", "other-safety"):
        return "protected"
    return "open" if kind in (None, "free") else kind


@pytest.mark.parametrize("lot", lots("parts"))
def test_what_a_parts_name_says(lot: str) -> None:
    """As a title and as an id."""
    read = [
        (part, read_as(part, systems, severity), expected)
        for name, systems, severity, expected in rows(lot)
        for part in (Part(id="p1", title=name), Part(id=name))
    ]
    assert [one for one in read if one[1] not in one[2].split("|")] == []


def test_a_number_in_a_name_says_no_more_than_another_unless_it_is_a_tyres_size() -> None:
    """So of names that differ in their numbers alone one is made out."""
    words = package_data.part_words()
    names = [name for lot in lots("parts") for name, *_ in rows(lot)]
    judged = {name: words._judged(name, "p1") for name in (*names, *(f"{name} 4711" for name in names))}
    assert {name: words.implied(name, "p1") for name in judged} == judged
    assert words.implied("Tyre 195/65R15", "") == words.implied("195/65R15", "") != words.implied("0/0R0", "")


@pytest.mark.long
def test_every_name_of_the_tables_is_read_as_it_stands_there() -> None:
    """Words that are left out elsewhere stay within a name that has them: "fuel leak off"."""
    names = [" ".join(words).removeprefix("^") for words in package_data.part_words().phrases]
    parts = [part for name in names for part in (Part(id="p1", title=name), Part(id=name.replace(" ", "-")))]
    assert [part for part in parts if read_as(part, "", "minor") == "open"] == []


@pytest.mark.parametrize("lot", lots("names"))
def test_everyday_names(lot: str) -> None:
    def known(what: str, word: str) -> str | None:
        return known_names.plain_name(word, package_data.systems) if what == "system" else known_names.plain_kind(word)

    read = [(word, known(what, word) or "error", expected) for what, word, expected in rows(lot)]
    assert [one for one in read if one[1] not in one[2].split("|")] == []


def is_minded(title: str, expected: str) -> bool:
    minded, wanted = set(package_data.check_words().minded(title)), {*expected.split("|")} - {""}
    must, may = {each for each in wanted if each[0] != "?"}, {each[1:] for each in wanted if each[0] == "?"}
    return must <= minded <= must | may


@pytest.mark.parametrize("lot", lots("checks"))
def test_what_a_checks_title_says_to_mind(lot: str) -> None:
    wrong = [(title, expected) for title, expected in rows(lot) if not is_minded(title, expected)]
    assert wrong == []


@pytest.mark.parametrize(
    ("title", "kind"),
    [
        ("Rear brake pads + brake light bulb", "friction"), ("Seat belt and airbag warning bulb", None),
        ("Steering wheel without airbag", None), ("Seat incl. seat belt", "restraint"),
        ("Sitz mit Sicherheitsgurt", "restraint"),
        ("Alternator with belt", None),
        ("Zierstreifen", None), ("Sommerreifen", "tyre"), ("Capteur de plaquettes de frein", None),
        ("Jeu de 4 disques de frein", "friction"), ("Calços de travão", "friction"),
        ("Push on fuel hose", "fuel-or-gas-hose"), ("Brake caliper qwxyz", "brake-hydraulic"),
        ("Brake calipers pair and fitting bolts", "brake-hydraulic"), ("Pad brake frt exch", "friction"),
        ("T/ROD END", "steering"), ("S-belt reel", "restraint"), ("Bremscheiben", "friction"),
        ("195/65R15 91H", "tyre"), ("A-arm", "steering"), ("Winch cable", "coupling-or-lifting"),
        ("Wheel bolts x20", "other-safety"), ("Brake gubbins", "other-safety"), ("Sensor ABS", None),
        ("Trommelbremse", "other-safety"), ("Bremslichtschalter", None), ("Vernier caliper", None),
        ("Gas strut tailgate", None), ("Alloys w/o tyres", "other-safety"), ("Alloy wheels with tyres", "tyre"),
        ("195 65 15 x4", "tyre"), ("Balljiont", "steering"), ("Gasket", None), ("Rods & arms", "steering"),
        ("Hose and pipe", None), ("Bomba da direcção", "steering"), ("Brake hose 10mm bolt type", "brake-hydraulic"),
        ("Window reg", None), ("Gas reg", "other-safety"), ("Bulb 21 w seat belt", "restraint"),
        ("Mat behind the child seat", None), ("Bracket for pipe behind brake caliper", "brake-hydraulic"),
        ("Gas locker door", None), ("Child car chair", "restraint"), ("Deck chair", None),
        ("Wishbone bolts", "steering"), ("Gurtschraube", "other-safety"), ("Caliper dust boots", "brake-hydraulic"),
        ("Lenkmanschette", "other-safety"), ("Front wheel", "other-safety"), ("Steel wheel trims", None),
        ("Jante alu", "other-safety"), ("Oprijplaten", "coupling-or-lifting"), ("Reifentaschen", None),
        ("Slack adjuster", "other-safety"), ("Trailer air line", "brake-hydraulic"), ("Workshop air line", None),
        ("Pipe, for the brakes", "brake-hydraulic"), ("Mat, without seat belt", None),
    ],
)  # fmt: skip
def test_what_a_part_comes_with_and_is_called_elsewhere(title: str, kind: str | None) -> None:
    assert package_data.part_words().implied(title, "")[0] == kind


@pytest.mark.parametrize(
    ("title", "harmless"),
    [
        ("Brake cleaner 500 ml", True), ("Tyre inflator, 12 V, lighter socket", True), ("Brake pedal rubber", True),
        ("Brake cleaner, pads", False), ("Brake cleaner (with brake pads)", False), ("Brake cleaner and discs", False),
        ("Rubber brake pedal", False), ("Tyre inflator with tyre", False), ("Brake cleaner/disc", False),
    ],
)  # fmt: skip
def test_what_is_harmless_is_free_in_a_fault_of_the_brakes_unless_a_part_is_named_beside_it(
    title: str, harmless: bool
) -> None:
    part, brakes = Part(id="p1", title=title), "brakes|tyres"
    assert (read_as(part, brakes, "dangerous") == "open") == harmless


def test_a_name_in_another_language_says_no_less_than_the_english_one() -> None:
    """A lone English word may be something else: "caliper"."""
    said = package_data.part_words()
    tables = [table for system, table in package_data.part_names().items() if system != package_data.MAY_BE]
    less = [
        name for table in tables for ours, names in table.items() for name in names
        if said.implied(name, "")[0] != said.implied(ours, "")[0]
    ]  # fmt: skip
    assert less == ["disc rotor", "pad set", "master cylinder", "rack and pinion", "damper"]


@pytest.mark.parametrize(
    ("fault", "systems"),
    [
        ("PTO guard missing", {"guards"}), ("roll bar missing", {"guards"}),
        ("anti roll bar link", {"steering-and-springs"}),
        ("loader arm falls", {"hydraulics"}), ("breakaway cable frayed", {"towing-and-winches"}),
        ("soft floor at the door", {"bodywork"}), ("draught at the door", {"glass-and-mechanisms"}),
        ("smell of petrol behind the seat", {"fuel"}), ("caravan water pump dead", {"water"}),
    ],
)  # fmt: skip
def test_the_systems_that_a_faults_words_name(fault: str, systems: set[str]) -> None:
    """What tells only where it is names none, where something else does."""
    assert set(package_data.systems_named(fault)) == systems


def test_diesel_brings_no_petrol_vapour_but_petrol_beside_it_does() -> None:
    diesel, petrol = (package_data.with_their_like([system]) for system in ("diesel-injection", "fuel"))
    assert "fuel" in diesel
    assert "petrol-vapour" not in diesel
    assert "Petrol vapour" in package_data.cautions_for({*diesel, *petrol})
    assert "Petrol vapour" not in package_data.cautions_for(diesel, ["fuel-or-gas-hose"])


def test_a_motorbikes_brakes_have_cautions_of_their_own() -> None:
    fault = known_names.fault(Fault(id="f", severity="dangerous", systems=("bike brakes",)), NOWHERE)
    assert fault.systems == ("motorbike-brakes",)
    assert protection.kind_of(Part(id="pads"), fault) in {"friction", None}
    assert package_data.is_minded_with("brake-hydraulic", fault.systems)
    said = " ".join(line for lines in package_data.cautions_for(fault.systems).values() for line in lines)
    assert all(word not in said for word in ("axle", "pedal", "lies under"))


ESCAPED = [
    ("Level right: warm up from cold; feel top and bottom hose with the back of the hand", "engine-running"),
    ("Engine off, go through all gears, then again with it running and the pedal down: hard when?", "engine-running"),
    ("Car running, does the needle move?", "engine-running"),
    ("Out of gear, meter on the posts while a helper turns the key: does it fall far?", "engine-running"),
    ("Front on stands: does the joint give?", "raised"),
    ("Uphill in second, does it slip?", "driven"),
    ("Creep forward and stamp on the pedal", "driven"),
    ("Im Schritttempo bremsen", "driven"),
    ("Démarrer à froid, regarder la fumée", "engine-running"),
    ("Terwijl hij draait luisteren aan de pomp", "engine-running"),
    ("Medir la tensión en la toma", "live"),
    ("Battery tester on the leisure battery", "live"),
    ("On the two-post lift, wobble the arms", "raised"),
    ("Short thrash down the bypass, then feel the hubs", "driven"),
    ("A few miles with the caravan on", "driven"),
    ("Leg in a tub, does the tell-tale squirt?", "engine-running"),
    ("Start and listen at the tappets", "engine-running"),
    ("Prop the trailer up and turn the hub", "raised"),
    ("Lead in the mains: does the case tingle?", "live"),
]


@pytest.mark.parametrize(("title", "danger"), ESCAPED)
def test_a_check_that_runs_or_raises_something_says_so(title: str, danger: str) -> None:
    assert danger in package_data.check_words().minded(title)


@pytest.mark.parametrize(
    "title",
    [
        "Engine off, then look at the belt",
        "Feel the running board",
        "Open the tap: is water running out?",
        "Run a spare wire to the frame",
        "Pull the hose away",
        "Steering wheel off: look at the ring",
        "Keep a foot on the pedal: does it creep down?",
        "Parked on the hill, handbrake on: does it roll?",
        "Mesurer la tension de la courroie",
        "Lift one end of the mat",
        "Start from the battery and follow the lead",
        "Ride-on seat: look at the springs",
        "Tilt the tractor seat",
        "Give the wheel a good spin by hand",
        "Jack points: any rust?",
        "Set the thermostat at forty degrees",
        "An air blast along the pipe",
        "Look at the plug in the socket for rust",
    ],
)  # fmt: skip
def test_a_check_that_runs_no_engine_is_left_alone(title: str) -> None:
    assert package_data.check_words().minded(title) == ()
