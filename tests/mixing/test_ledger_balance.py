"""Whatever hands do at the bench, not 0.01 mL (here: not 1 µL) is lost or invented, and no jar is spoilt."""

import random

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from hidewright.mixing import SPRAYED, STOCK, WASTE, Act, Entry, Ledger, VesselKind, acts
from hidewright.mixing.ledger import Content, contents, crosslinked_since, volume
from hidewright.refusals import Refusal
from mixing.bench import LINKER, bench

VESSELS = tuple(bench().vessels)
WHERE = st.sampled_from(VESSELS)
HOW_MUCH = st.integers(1, 400_000)
PARTS = ("white", "umber", "base", "oxide")


def balanced(ledger: Ledger) -> bool:
    """What left stock stands in the vessels or went out, content by content."""
    total: dict[Content, int] = {}
    for place in (*VESSELS, SPRAYED, WASTE):
        for content, amount in contents(ledger, place).items():
            assert amount > 0, (place, content, amount)
            total[content] = total.get(content, 0) + amount
    taken = {content: -amount for content, amount in contents(ledger, STOCK).items()}
    return total == taken


class Hands(RuleBasedStateMachine):
    """Random hands, and a second book kept as plain mL sums of what each hand meant to move."""

    def __init__(self) -> None:
        super().__init__()
        self.ledger = bench()
        self.meant = dict.fromkeys(VESSELS, 0)

    def do(self, entry: Entry | None, *changes: tuple[str, int]) -> None:
        if entry is None:
            return
        self.ledger = self.ledger.added(entry)
        for vessel, change in changes:
            self.meant[vessel] += change

    def tried(self, act: object, *args: object, **more: object) -> Entry | None:
        try:
            return act(self.ledger, *args, **more)  # type: ignore[operator]
        except Refusal:
            return None

    @rule(vessel=WHERE, part=st.sampled_from(PARTS), amount=HOW_MUCH, lot=st.sampled_from(["", "7"]))
    def pour(self, vessel: str, part: str, amount: int, lot: str) -> None:
        self.do(self.tried(acts.pour, vessel, part, amount, lot=lot), (vessel, amount))

    @rule(source=WHERE, into=WHERE, amount=HOW_MUCH)
    def split(self, source: str, into: str, amount: int) -> None:
        if source != into:
            self.do(self.tried(acts.split, source, into, amount), (source, -amount), (into, amount))

    @rule(source=WHERE, into=WHERE)
    def box(self, source: str, into: str) -> None:
        amount = self.meant[source]
        self.do(self.tried(acts.box, [source], into), (source, -amount), (into, amount))

    @rule(vessel=WHERE, amount=st.integers(1, 20_000))
    def crosslink(self, vessel: str, amount: int) -> None:
        self.do(self.tried(acts.crosslink, vessel, LINKER, amount), (vessel, amount))

    @rule(vessel=WHERE, amount=HOW_MUCH)
    def use(self, vessel: str, amount: int) -> None:
        self.do(self.tried(acts.use, vessel, amount), (vessel, -amount))

    @rule(vessel=WHERE, amount=HOW_MUCH)
    def discard(self, vessel: str, amount: int) -> None:
        self.do(self.tried(acts.discard, vessel, amount), (vessel, -amount))

    @rule(vessel=WHERE)
    def empty(self, vessel: str) -> None:
        amount = self.meant[vessel]
        self.do(self.tried(acts.discard, vessel, amount), (vessel, -amount))

    @rule(source=WHERE, jar=st.sampled_from(["jar", "spare"]), amount=HOW_MUCH)
    def keep(self, source: str, jar: str, amount: int) -> None:
        if source != jar:
            self.do(self.tried(acts.to_jar, source, jar, amount), (source, -amount), (jar, amount))

    @rule(pick=st.integers(0, 10_000))
    def take_back(self, pick: int) -> None:
        if not self.ledger.entries:
            return
        old = self.ledger.entries[pick % len(self.ledger.entries)]
        changes = [(p, -sum(m.amount for m in old.moves if m.target == p)) for p in old.vessels()]
        changes += [(p, sum(m.amount for m in old.moves if m.source == p)) for p in old.vessels()]
        self.do(self.tried(acts.counter, old.number), *changes)

    @invariant()
    def nothing_is_lost_or_invented(self) -> None:
        assert balanced(self.ledger)
        assert {vessel: volume(self.ledger, vessel) for vessel in VESSELS} == self.meant

    @invariant()
    def nothing_runs_over_and_no_jar_is_spoilt(self) -> None:
        for vessel in self.ledger.vessels.values():
            assert volume(self.ledger, vessel.key) <= vessel.capacity
            if vessel.kind is VesselKind.JAR:
                assert crosslinked_since(self.ledger, vessel.key) is None
                assert (LINKER, "") not in contents(self.ledger, vessel.key)


TestHands = Hands.TestCase
TestHands.settings = settings(max_examples=60, stateful_step_count=50, deadline=None)


def random_act(hands: random.Random, ledger: Ledger) -> Entry:
    """One act at random; it may refuse."""
    a, b = hands.sample(VESSELS, 2)
    amount = hands.randint(1, 60_000)
    there = volume(ledger, a)
    match hands.choice(list(Act)):
        case Act.POUR:
            return acts.pour(ledger, a, hands.choice(PARTS), amount)
        case Act.SPLIT:
            return acts.split(ledger, a, b, amount)
        case Act.BOX:
            return acts.box(ledger, [a], b)
        case Act.CROSSLINK:
            return acts.crosslink(ledger, a, LINKER, amount // 30 + 1)
        case Act.USE:
            return acts.use(ledger, a, min(amount, there))
        case Act.DISCARD:
            return acts.discard(ledger, a, min(amount * 3, there))
        case Act.TO_JAR:
            return acts.to_jar(ledger, a, b, amount)
        case Act.COUNTER:
            return acts.counter(ledger, max(1, len(ledger.entries) - hands.randint(0, 5)))


def test_two_thousand_acts_in_one_ledger_balance() -> None:
    """A long day in one ledger, seeded; carried levels are the levels that the entries give when replayed."""
    hands = random.Random(4)
    ledger = bench()
    done = dict.fromkeys(Act, 0)
    tried = 0
    while len(ledger.entries) < 2000 and tried < 20_000:
        tried += 1
        try:
            entry = random_act(hands, ledger)
        except Refusal:
            continue
        ledger = ledger.added(entry)
        done[entry.act] += 1
        if len(ledger.entries) % 20 == 0:
            assert balanced(ledger)
    assert len(ledger.entries) == 2000
    assert min(done.values()) >= 20, done
    again = Ledger(ledger.vessels, ledger.entries, ledger.crosslinkers)
    assert all(contents(again, v) == contents(ledger, v) for v in VESSELS)
    assert all(crosslinked_since(again, v) == crosslinked_since(ledger, v) for v in VESSELS)
