"""However many false stations are announced, those that may be the paired one are kept."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from feedback.link.sightings import (
    MOST,
    MOST_COUNTED,
    MOST_OF_ONE_HOST,
    FoundStation,
    Group,
    Sightings,
)

PREFIX = "0123456789abcdef"
HOME = "192.0.2.1"


def station(name: str, host: str, prefix: str = "f" * 16, port: int = 4001) -> FoundStation:
    return FoundStation(name, prefix, 2, (host,), port)


def address(number: int) -> str:
    return f"10.{number // 65536}.{number // 256 % 256}.{number % 256}"


def test_ten_thousand_false_names_do_not_hide_the_paired_station_or_fill_the_memory() -> None:
    sightings = Sightings()
    sightings.want({PREFIX: frozenset([HOME])})
    real = station("room 1", "192.0.2.9", PREFIX)
    sightings.see("real", real)
    for number in range(10_000):
        sightings.see(f"false {number}", station(f"false {number}", address(number)))
    assert real in sightings.found()
    assert len(sightings.found()) == MOST[Group.OTHER] + 1
    assert sightings.let_go == MOST_COUNTED


def test_a_copied_prefix_cannot_push_out_what_is_at_the_computer_where_it_was_met() -> None:
    sightings = Sightings()
    sightings.want({PREFIX: frozenset([HOME])})
    restarted = station("room 1", HOME, PREFIX, port=5001)
    sightings.see("real", restarted)
    for number in range(10_000):
        sightings.see(f"false {number}", station(f"false {number}", address(number), PREFIX))
    assert restarted in sightings.found()
    assert len(sightings.found()) == MOST[Group.MAY_BE_PAIRED] + 1


def test_many_names_of_one_computer_push_out_each_other_alone() -> None:
    sightings = Sightings()
    new = station("room 2", "192.0.2.2")
    sightings.see("room 2", new)
    for number in range(500):
        sightings.see(f"false {number}", station(f"false {number}", "198.51.100.1"))
    assert new in sightings.found()
    assert len(sightings.found()) == MOST_OF_ONE_HOST + 1
    assert sightings.let_go == 500 - MOST_OF_ONE_HOST


def test_one_computer_with_a_copied_prefix_does_not_push_out_the_one_that_moved() -> None:
    sightings = Sightings()
    sightings.want({PREFIX: frozenset([HOME])})
    moved = station("room 1", "192.0.2.9", PREFIX)
    for number in range(1200):
        if number == 300:
            sightings.see("real", moved)
        sightings.see(f"false {number}", station(f"false {number}", "198.51.100.1", PREFIX))
    assert moved in sightings.found()


def test_who_was_there_before_a_flood_stays() -> None:
    sightings = Sightings()
    unpaired = station("room 2", "192.0.2.2")
    sightings.see("room 2", unpaired)
    for number in range(10_000):
        sightings.see(f"false {number}", station(f"false {number}", address(number)))
    assert unpaired in sightings.found()


def test_a_station_that_was_just_paired_moves_to_its_own_room() -> None:
    sightings = Sightings()
    new = station("room 2", "192.0.2.2", PREFIX)
    sightings.see("room 2", new)
    sightings.want({PREFIX: frozenset()})
    for number in range(1000):
        sightings.see(f"false {number}", station(f"false {number}", address(number)))
    assert new in sightings.found()


def test_what_was_not_heard_of_again_is_lost() -> None:
    sightings = Sightings()
    for name in "abc":
        sightings.see(name, station(name, address(ord(name))))
    sightings.keep_only(frozenset("b"))
    assert [one.name for one in sightings.found()] == ["b"]


names = st.sampled_from([f"n{number}" for number in range(30)])
steps = st.lists(
    st.tuples(names, st.integers(0, 5), st.sampled_from([PREFIX, "f" * 16, ""]), st.booleans()),
    max_size=200,
)


@given(steps=steps)
def test_it_holds_what_was_announced_last_and_its_count_of_computers_is_right(
    steps: list[tuple[str, int, str, bool]],
) -> None:
    sightings = Sightings()
    sightings.want({PREFIX: frozenset([address(0)])})
    last: dict[str, FoundStation] = {}
    for name, host, prefix, gone in steps:
        if gone:
            sightings.lose(name)
            last.pop(name, None)
        else:
            last[name] = station(name, address(host), prefix)
            sightings.see(name, last[name])
            assert last[name] in sightings.found()
    assert set(sightings.found()) <= set(last.values())
    assert len(sightings.found()) + sightings.let_go == len(last)
    for group, stations in sightings._groups.items():
        hosts = [host for one in stations.values() for host in one.hosts]
        assert dict(sightings._hosts[group]) == {host: hosts.count(host) for host in set(hosts)}
