"""Whatever is poured, moved, linked, used, discarded and countered: nothing is lost and nothing is made."""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from hidewright.mixing.ledger import Act, Entry, Ledger, Vessel, VesselKind
from hidewright.refusals import Refusal

VESSELS = [
    Vessel("cup", "Cup", VesselKind.CUP, 1000),
    Vessel("cup2", "Second cup", VesselKind.CUP, 500),
    Vessel("gun", "Gun load", VesselKind.PORTION, 250),
    Vessel("jar", "Jar", VesselKind.JAR, 300),
]
KEYS = st.sampled_from([v.key for v in VESSELS])
AMOUNTS = st.integers(1, 400_000)


class Bench(RuleBasedStateMachine):
    """Random hands at the bench."""

    def __init__(self) -> None:
        super().__init__()
        self.ledger = Ledger(VESSELS)

    def enter(
        self, act: Act, vessel: str, amount: int = 0, part: str = "", to: str = "", counters: int = 0
    ) -> None:
        before = self.ledger.balance()
        number = len(self.ledger.entries) + 1
        try:
            self.ledger.append(Entry(number, act, vessel, amount, part, to, counters))
        except Refusal:
            assert self.ledger.balance() == before, "a refused entry changed something"
            assert len(self.ledger.entries) == number - 1

    @rule(vessel=KEYS, amount=AMOUNTS, part=st.sampled_from(["PW6", "PBk7", "base"]))
    def pour(self, vessel: str, amount: int, part: str) -> None:
        self.enter(Act.POUR, vessel, amount, part)

    @rule(vessel=KEYS, amount=AMOUNTS, to=KEYS)
    def move(self, vessel: str, amount: int, to: str) -> None:
        self.enter(Act.MOVE, vessel, amount, to=to)

    @rule(vessel=KEYS, amount=st.integers(1, 20_000))
    def crosslink(self, vessel: str, amount: int) -> None:
        self.enter(Act.CROSSLINK, vessel, amount, "linker")

    @rule(vessel=KEYS, amount=AMOUNTS, act=st.sampled_from([Act.USE, Act.DISCARD]))
    def leave(self, vessel: str, amount: int, act: Act) -> None:
        self.enter(act, vessel, amount)

    @rule(data=st.data())
    def counter(self, data: st.DataObject) -> None:
        if self.ledger.entries:
            old = data.draw(st.sampled_from(self.ledger.entries))
            self.enter(Act.COUNTER, old.vessel, counters=old.number)

    @invariant()
    def balances(self) -> None:
        for poured, inside, gone in self.ledger.balance().values():
            assert poured == inside + gone
            assert min(poured, inside, gone) >= 0

    @invariant()
    def nothing_overflows_and_no_jar_sets(self) -> None:
        for vessel in VESSELS:
            contents = self.ledger.contents(vessel.key)
            assert contents.total <= vessel.capacity + 1e-9
            assert not (vessel.kind is VesselKind.JAR and contents.linked)

    @invariant()
    def replaying_gives_the_same(self) -> None:
        again = Ledger(VESSELS, self.ledger.entries)
        assert again.balance() == self.ledger.balance()


TestBench = Bench.TestCase
TestBench.settings = settings(max_examples=60, stateful_step_count=50, deadline=None)
