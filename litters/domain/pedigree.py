"""Pedigrees, inbreeding and relationship of dogs.

F is the coefficient of inbreeding (0..1), a_xy the additive relationship, f_xy = a_xy / 2 the kinship,
R_xy = a_xy / sqrt((1 + F_x)(1 + F_y)) Wright's relationship.  They hold for autosomal genes without
selection; founders count as unrelated and not inbred and an unknown parent adds nothing, so unknown ancestors
bias F down.

Sources: Wright 1922, Am Nat 56:330-338 (definitions; from memory); tabular method: Henderson 1976, Biometrics
32:69-83, as taught in the University of Copenhagen's course of population genetics, section 4.5 (read there);
A = L D L': Quaas 1976, Biometrics 32:949-953, and Meuwissen & Luo 1992, Genet Sel Evol 24:305-313 (worked
case read in Mrode, Linear Models, 3rd ed., App. B); its row-by-row use: Colleau 2002, Genet Sel Evol
34:409-421 (from memory).  The tests check the ways against each other.
"""

import heapq
import math
from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

UNKNOWN = -1
MOST_ANIMALS_FOR_A_TABLE = 2_000


@dataclass(frozen=True)
class Parentage:
    """One animal with its parents and, where known, its birthday; an unknown parent is None."""

    animal: str
    sire: str | None = None
    dam: str | None = None
    born_on: date | None = None


@dataclass(frozen=True)
class Pedigree:
    """Animals in an order that puts parents before offspring; sires and dams by position, -1 for unknown."""

    animals: tuple[str, ...]
    sires: tuple[int, ...]
    dams: tuple[int, ...]
    positions: Mapping[str, int]

    def position(self, animal: str) -> int:
        """Where an animal stands in the order; ValueError for one that is not in the pedigree."""
        if animal not in self.positions:
            raise ValueError(f"{animal} is not in the pedigree")
        return self.positions[animal]

    def parents(self, position: int) -> tuple[int, ...]:
        """Positions of the known parents of the animal at a position."""
        return tuple(p for p in (self.sires[position], self.dams[position]) if p != UNKNOWN)


@dataclass(frozen=True)
class Relationships:
    """A pedigree with the inbreeding coefficient of each of its animals, in their order."""

    pedigree: Pedigree
    coefficients: tuple[float, ...]

    def inbreeding(self, animal: str) -> float:
        """F of an animal."""
        return self.coefficients[self.pedigree.position(animal)]

    def additive(self, x: str, y: str) -> float:
        """Additive relationship a_xy, 0..2; of an animal with itself 1 + F."""
        return additive_relationship(self, self.pedigree.position(x), self.pedigree.position(y))

    def kinship(self, x: str, y: str) -> float:
        """Kinship f_xy = a_xy / 2, 0..1."""
        return self.additive(x, y) / 2

    def wright(self, x: str, y: str) -> float:
        """Wright's coefficient of relationship R_xy, 0..1."""
        return self.additive(x, y) / math.sqrt((1 + self.inbreeding(x)) * (1 + self.inbreeding(y)))

    def progeny_inbreeding(self, sire: str, dam: str) -> float:
        """F of offspring of two animals, a_sire,dam / 2; ValueError when they are one animal."""
        if sire == dam:
            raise ValueError(f"{sire} cannot be sire and dam of the same offspring")
        return self.additive(sire, dam) / 2


def build_pedigree(records: Iterable[Parentage]) -> Pedigree:
    """A pedigree from records in any order; a parent without a record of its own becomes a founder.

    ValueError, naming the animal: recorded twice, its own ancestor, one animal as both sire and dam of an
    offspring, a parent not older than its offspring.
    """
    by_name: dict[str, Parentage] = {}
    for record in records:
        if record.animal in by_name:
            raise ValueError(f"{record.animal} is recorded twice")
        by_name[record.animal] = record
    for record in list(by_name.values()):
        for parent in (record.sire, record.dam):
            if parent is not None:
                by_name.setdefault(parent, Parentage(parent))
    for record in by_name.values():
        _check_parents(record, by_name)
    order = _parents_first(by_name)
    positions = {animal: index for index, animal in enumerate(order)}
    return Pedigree(
        tuple(order),
        tuple(_position(by_name[animal].sire, positions) for animal in order),
        tuple(_position(by_name[animal].dam, positions) for animal in order),
        positions,
    )


def relationships(pedigree: Pedigree) -> Relationships:
    """The pedigree with every inbreeding coefficient; time grows with animals × sires."""
    return Relationships(pedigree, tuple(inbreeding_coefficients(pedigree)))


def inbreeding_coefficients(pedigree: Pedigree) -> list[float]:
    """F of every animal in the pedigree's order, by A = L D L'.

    F_x is half of a_sire,dam; the relationships of one sire to all his mates come from one pass up to his
    ancestors and one pass down, so no matrix is ever held.
    """
    # The sex with fewer parents leads: one pass for each of them serves all its mates.
    few, many = sorted((pedigree.sires, pedigree.dams), key=lambda parents: len(set(parents)))
    mates: dict[int, set[int]] = {}
    for one, other in zip(few, many, strict=True):
        if one != UNKNOWN and other != UNKNOWN:
            mates.setdefault(one, set()).add(other)
    coefficients: list[float] = []
    own_share: list[float] = []
    related: dict[int, dict[int, float]] = {}
    for index, (one, other) in enumerate(zip(few, many, strict=True)):
        inbreeding = 0.0
        if one != UNKNOWN and other != UNKNOWN:
            if one not in related:
                row = _relationship_row(pedigree, one, max(mates[one]), own_share)
                related[one] = {mate: row[mate] for mate in mates[one]}
            inbreeding = related[one][other] / 2
        coefficients.append(inbreeding)
        own_share.append(_own_share(pedigree, index, coefficients))
    return coefficients


def additive_relationship(known: Relationships, x: int, y: int) -> float:
    """a of the animals at two positions: sum over common ancestors j of L_xj L_yj D_jj."""
    reach_x = gene_shares(known.pedigree, x)
    reach_y = reach_x if x == y else gene_shares(known.pedigree, y)
    return math.fsum(
        share * reach_y[ancestor] * _own_share(known.pedigree, ancestor, known.coefficients)
        for ancestor, share in reach_x.items()
        if ancestor in reach_y
    )


def gene_shares(pedigree: Pedigree, position: int) -> dict[int, float]:
    """L: expected share of an animal's genes that passed through each ancestor (itself 1), youngest first."""
    shares: dict[int, float] = {position: 1.0}
    waiting = [-position]
    while waiting:
        ancestor = -heapq.heappop(waiting)
        half = shares[ancestor] / 2
        for parent in pedigree.parents(ancestor):
            if parent in shares:
                shares[parent] += half
            else:
                shares[parent] = half
                heapq.heappush(waiting, -parent)
    return shares


def relationship_table(pedigree: Pedigree) -> list[list[float]]:
    """All a_xy by the tabular method, rows and columns in the pedigree's order; at most 2,000 animals.

    a_xy = (a_x,sire(y) + a_x,dam(y)) / 2 for x older than y, a_yy = 1 + a_sire(y),dam(y) / 2.
    """
    count = len(pedigree.animals)
    if count > MOST_ANIMALS_FOR_A_TABLE:
        raise ValueError(f"a table of {count} animals needs too much memory: use relationships()")
    table = [[0.0] * count for _ in range(count)]
    for y in range(count):
        parents = pedigree.parents(y)
        for x in range(y):
            table[x][y] = table[y][x] = sum(table[x][parent] for parent in parents) / 2
        inbreeding = table[parents[0]][parents[1]] / 2 if len(parents) == 2 else 0.0
        table[y][y] = 1 + inbreeding
    return table


def ancestors_within(pedigree: Pedigree, animals: Sequence[str], generations: int | None = None) -> Pedigree:
    """The pedigree of some animals and their ancestors, cut above `generations` (1 = the animals alone).

    An animal that appears at several depths keeps the nearest.
    """
    if generations is not None and generations < 1:
        raise ValueError(f"generations must be 1 or more, not {generations}")
    depth = {pedigree.position(animal): 1 for animal in animals}
    waiting = deque(depth)
    cut: set[int] = set()
    while waiting:
        position = waiting.popleft()
        if generations is not None and depth[position] >= generations:
            cut.add(position)
            continue
        for parent in pedigree.parents(position):
            if parent not in depth:
                depth[parent] = depth[position] + 1
                waiting.append(parent)
    return build_pedigree(_record(pedigree, position, position in cut) for position in depth)


def _record(pedigree: Pedigree, position: int, without_parents: bool) -> Parentage:
    def name(parent: int) -> str | None:
        return None if parent == UNKNOWN or without_parents else pedigree.animals[parent]

    return Parentage(
        pedigree.animals[position], name(pedigree.sires[position]), name(pedigree.dams[position])
    )


def _relationship_row(
    pedigree: Pedigree, position: int, last: int, own_share: Sequence[float]
) -> list[float]:
    """a of one animal with all animals up to position `last`; the entry at -1 stays 0 for unknown parents."""
    sires, dams = pedigree.sires, pedigree.dams
    reach = [0.0] * (position + 1)
    reach[position] = 1.0
    first = position
    for ancestor in range(position, -1, -1):
        share = reach[ancestor]
        if share:
            first = ancestor
            if sires[ancestor] != UNKNOWN:
                reach[sires[ancestor]] += share / 2
            if dams[ancestor] != UNKNOWN:
                reach[dams[ancestor]] += share / 2
    row = [0.0] * (max(last, position) + 2)
    for index in range(first, min(position, last) + 1):
        row[index] = (row[sires[index]] + row[dams[index]]) / 2 + reach[index] * own_share[index]
    for index in range(position + 1, last + 1):
        row[index] = (row[sires[index]] + row[dams[index]]) / 2
    return row


def _own_share(pedigree: Pedigree, position: int, coefficients: Sequence[float]) -> float:
    """D_jj, the part of an animal's genes that is its own sampling: 1, 0.75 - F/4 or 0.5 - (F_s + F_d)/4."""
    parents = pedigree.parents(position)
    return 1.0 - sum((1 + coefficients[parent]) / 4 for parent in parents)


def _position(parent: str | None, positions: Mapping[str, int]) -> int:
    return UNKNOWN if parent is None else positions[parent]


def _check_parents(record: Parentage, by_name: Mapping[str, Parentage]) -> None:
    if record.sire is not None and record.sire == record.dam:
        raise ValueError(f"{record.sire} cannot be sire and dam of {record.animal}")
    for parent in (record.sire, record.dam):
        if parent is None:
            continue
        if parent == record.animal:
            raise ValueError(f"{record.animal} cannot be its own parent")
        parent_born_on = by_name[parent].born_on
        if record.born_on is not None and parent_born_on is not None and parent_born_on >= record.born_on:
            raise ValueError(f"{parent} is not older than its offspring {record.animal}")


def _parents_first(by_name: Mapping[str, Parentage]) -> list[str]:
    """Topological order that keeps the given one where it can; ValueError naming an animal of a cycle."""
    offspring: dict[str, list[str]] = {animal: [] for animal in by_name}
    missing: dict[str, int] = {}
    for animal, record in by_name.items():
        parents = [parent for parent in (record.sire, record.dam) if parent is not None]
        missing[animal] = len(parents)
        for parent in parents:
            offspring[parent].append(animal)
    ready = deque(animal for animal, count in missing.items() if count == 0)
    order: list[str] = []
    while ready:
        animal = ready.popleft()
        order.append(animal)
        for child in offspring[animal]:
            missing[child] -= 1
            if missing[child] == 0:
                ready.append(child)
    if len(order) < len(by_name):
        raise ValueError(f"{_on_a_cycle(by_name, set(order))} is its own ancestor")
    return order


def _on_a_cycle(by_name: Mapping[str, Parentage], ordered: set[str]) -> str:
    """An animal on a cycle: going up among animals that could not be ordered must come back to one."""
    animal = next(name for name in by_name if name not in ordered)
    seen: set[str] = set()
    while animal not in seen:
        seen.add(animal)
        record = by_name[animal]
        animal = next(
            parent for parent in (record.sire, record.dam) if parent is not None and parent not in ordered
        )
    return animal
