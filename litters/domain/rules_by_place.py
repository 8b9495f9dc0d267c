"""Published rules by place, as data to choose from, edit or switch off.

No place is a default: limits differ (a chip by 7 weeks in one country, by 12 in another), so the kennel
names its place. Figures that were only remembered say so in their status.
"""

from __future__ import annotations

from datetime import date

from litters.domain.place_rules import PlaceRule, RuleSet, Topic

READ_ON = date(2026, 11, 25)

_TEXT = "verified in text"
_QUOTED = "verified in text (secondary quotation)"
_MEMORY = "from memory, unverified"
_MEMORY_1999 = "from memory, unverified; same limit in the 1999 Act by secondary quotation"
_SCHEDULE_6 = "SI 2018/486 Schedule 6"


def _rule(
    key: str,
    place: str,
    topic: Topic,
    text: str,
    value: int | None,
    source: str,
    status: str,
    exception: str = "",
) -> PlaceRule:
    return PlaceRule(key, place, topic, text, value, source, status, READ_ON, exception)


_ENGLAND = (
    _rule(
        "england.leave_age", "England", Topic.LEAVE_AGE,
        "Not sold or parted for good from the dam under 8 weeks.", 56,
        f"{_SCHEDULE_6} para 1(5), 1(7)", _TEXT, "where health requires it",
    ),
    _rule(
        "england.transport_age", "England", Topic.TRANSPORT_AGE,
        "Not transported under 8 weeks without the dam.", 56,
        f"{_SCHEDULE_6} para 2(9)", _TEXT, "on a vet's advice or in an emergency",
    ),
    _rule(
        "england.chip_age", "England", Topic.CHIP_AGE,
        "Chipped, with the keeper on a database, once over 8 weeks; the breeder is the first keeper.",
        56, "SI 2015/108, since replaced by the 2023 regulations (from memory)", _TEXT,
        "certified docked working dogs: up to 12 weeks (a supplier's note)",
    ),
    _rule(
        "england.chip_before_leaving", "England", Topic.CHIP_BEFORE_LEAVING,
        "A pup over 8 weeks goes to its new keeper chipped.", None, "follows from SI 2015/108", "derived",
    ),
    _rule(
        "england.dam_age", "England", Topic.DAM_AGE_AT_MATING, "Not mated under 12 months of age.",
        12, f"{_SCHEDULE_6} para 6", _MEMORY_1999,
    ),
    _rule(
        "england.litter_interval", "England", Topic.LITTER_INTERVAL, "At most one litter in 12 months.",
        12, f"{_SCHEDULE_6} para 6", _MEMORY_1999,
    ),
    _rule(
        "england.litters_in_life", "England", Topic.LITTERS_IN_LIFE, "At most six litters in a life.",
        6, f"{_SCHEDULE_6} para 6", _MEMORY_1999,
    ),
    _rule(
        "england.caesareans", "England", Topic.CAESAREANS, "Not mated after two caesareans.",
        2, f"{_SCHEDULE_6} para 6", _MEMORY,
    ),
    _rule(
        "england.licence", "England", Topic.LICENCE,
        "Three or more litters in any 12 months need a licence, unless no pup was sold; so does a business.",
        3, "government statutory guidance, 2024", _TEXT,
    ),
    _rule(
        "england.dam_transport", "England", Topic.DAM_TRANSPORT, "Not transported after day 54 from mating.",
        54, f"{_SCHEDULE_6} para 2(10)", _TEXT, "to a vet",
    ),
    _rule(
        "england.dam_rest", "England", Topic.DAM_REST, "Not transported within 48 hours of whelping.",
        48, f"{_SCHEDULE_6} para 2(11)", _TEXT, "to a vet",
    ),
    _rule(
        "england.records", "England", Topic.RECORDS, "Records kept 3 years, readable, open to inspection.",
        3, "SI 2018/486 Schedule 2", _MEMORY,
    ),
    _rule(
        "england.notify", "England", Topic.DUTY,
        "A licensed breeder tells the council of each litter whelped.", None,
        "government statutory guidance, 2024", _TEXT,
    ),
    _rule(
        "england.shown_with_dam", "England", Topic.DUTY,
        "Pups are shown only with their mother, and only own-bred pups are sold, from the home premises.",
        None, f"{_SCHEDULE_6} para 1", _TEXT,
    ),
)  # fmt: skip

_IRELAND = (
    _rule(
        "ireland.chip_age", "Ireland", Topic.CHIP_AGE,
        "Chipped by 12 weeks, or before leaving if that is sooner.", 84,
        "SI 63/2015 as told by a vet clinic", _QUOTED,
    ),
    _rule(
        "ireland.chip_before_leaving", "Ireland", Topic.CHIP_BEFORE_LEAVING, "Chipped before leaving.",
        None, "SI 63/2015 as told by a vet clinic", _QUOTED,
    ),
)  # fmt: skip

_NETHERLANDS = (
    _rule(
        "netherlands.chip_age", "Netherlands", Topic.CHIP_AGE, "Chipped within 7 weeks.",
        49, "a Dutch clinic's page quoting the decree", _TEXT,
    ),
    _rule(
        "netherlands.register_age", "Netherlands", Topic.REGISTER_AGE, "Registered within 8 weeks.",
        56, "a Dutch clinic's page quoting the decree", _TEXT,
    ),
    _rule(
        "netherlands.chip_before_leaving", "Netherlands", Topic.CHIP_BEFORE_LEAVING,
        "A pup that leaves after the deadline is chipped by then.",
        None, "follows from the deadline", "derived",
    ),
)  # fmt: skip

_EU = (
    _rule(
        "eu.leave_age", "EU members", Topic.LEAVE_AGE, "Mostly 8 weeks; some national rules differ.",
        56, "no text read; an EU regulation on dogs and cats is in progress", _MEMORY,
    ),
)  # fmt: skip

_EU_TRAVEL = (
    _rule(
        "eu_travel.chip_before_rabies", "EU travel", Topic.CHIP_BEFORE_RABIES,
        "The rabies vaccination may not be dated before the chip.",
        None, "Regulation (EU) 576/2013", _QUOTED,
    ),
    _rule(
        "eu_travel.rabies_age", "EU travel", Topic.RABIES_AGE,
        "At least 12 weeks old at the rabies vaccination.", 84, "Regulation (EU) 576/2013 Annex III", _QUOTED,
        "a member state may accept younger animals (from memory, unverified)",
    ),
    _rule(
        "eu_travel.rabies_wait", "EU travel", Topic.RABIES_WAIT,
        "Valid no sooner than 21 days after the first course; after a lapse it is a first course again.",
        21, "Regulation (EU) 576/2013 Annex III", _QUOTED,
    ),
    _rule(
        "eu_travel.commercial", "EU travel", Topic.DUTY,
        "Sale or transfer counts as commercial: other rules apply; ask the authority.",
        None, "Regulation (EU) 576/2013 Article 3", _TEXT,
    ),
)  # fmt: skip

_US = (
    _rule(
        "us.leave_age", "US federal", Topic.LEAVE_AGE, "At least 8 weeks before transport in commerce.",
        56, "9 CFR 2.130 as described in 73 FR 26344 (2008)", _QUOTED,
    ),
    _rule(
        "us.weaned", "US federal", Topic.LEAVE_WEANED, "Weaned before transport in commerce.",
        None, "9 CFR 2.130 as described in 73 FR 26344 (2008)", _QUOTED,
    ),
    _rule(
        "us.pup_tag", "US federal", Topic.PUP_TAG,
        "Licensed breeders' pups under 16 weeks: tag, tattoo or marked collar; then tag, tattoo or chip.",
        112, "9 CFR 2.50(a)(2)", _TEXT,
    ),
    _rule(
        "us.records", "US federal", Topic.RECORDS, "Kept at least a year after an animal left.",
        1, "9 CFR 2.80", _MEMORY,
    ),
)  # fmt: skip

_NEW_YORK = (
    _rule(
        "new_york.leave_age", "New York", Topic.LEAVE_AGE, "Not sold under 8 weeks.",
        56, "Agriculture & Markets Law 402", _TEXT,
    ),
    _rule(
        "new_york.records", "New York", Topic.RECORDS, "Records kept 2 years.",
        2, "Agriculture & Markets Law 402", _TEXT,
    ),
)  # fmt: skip

_TEXAS = (
    _rule(
        "texas.leave_age", "Texas", Topic.LEAVE_AGE,
        "Licensed breeders: not sold or given away under 8 weeks.", 56, "16 TAC 91.113", _TEXT,
    ),
)  # fmt: skip

RULE_SETS: dict[str, RuleSet] = {
    "England": RuleSet("England", _ENGLAND),
    "Ireland": RuleSet("Ireland", _IRELAND),
    "Netherlands": RuleSet("Netherlands", _EU + _NETHERLANDS),
    "EU members": RuleSet("EU members", _EU),
    "EU travel": RuleSet("EU travel", _EU_TRAVEL),
    "US federal": RuleSet("US federal", _US),
    "New York": RuleSet("New York", _US + _NEW_YORK),
    "Texas": RuleSet("Texas", _US + _TEXAS),
    "none": RuleSet("none", ()),
}


def rule_set(place: str) -> RuleSet:
    """The published rules of a place. Raises ValueError for a place without any, naming those there are."""
    if place not in RULE_SETS:
        raise ValueError(f"no rules for {place!r}; there are {', '.join(RULE_SETS)}")
    return RULE_SETS[place]
