"""How many may come, how many may stay, and who gives way to whom."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from feedback.link.quota import (
    BURST,
    BURST_FROM_ONE,
    MOST_PROVED,
    MOST_UNPROVED,
    MOST_UNPROVED_FROM_ONE,
    PER_SECOND,
    PROVED_FRAMES_BURST,
    PROVED_FRAMES_PER_SECOND,
    UNPROVED_BYTES,
    UNPROVED_FRAMES,
    Admission,
    Peer,
    Quota,
    plain_address,
    source_of,
)
from shared.units import NS_PER_S


def peer(address: str, port: int) -> Peer:
    return address, port


def test_one_address_cannot_take_all_places() -> None:
    admission = Admission(0)
    for number in range(MOST_UNPROVED_FROM_ONE):
        assert admission.enter(peer("192.0.2.1", number), number * NS_PER_S).gives_way is None
    entry = admission.enter(peer("192.0.2.1", 999), 100 * NS_PER_S)
    assert entry.admitted
    assert entry.gives_way == peer("192.0.2.1", 0)  # its own oldest
    assert admission.open() == MOST_UNPROVED_FROM_ONE
    assert admission.enter(peer("192.0.2.2", 1), 100 * NS_PER_S).gives_way is None


def test_the_silent_give_way_to_the_new_and_the_largest_crowd_first() -> None:
    admission, at_ns = Admission(0), 0
    for number in range(MOST_UNPROVED):
        at_ns += NS_PER_S
        admission.enter(peer(f"192.0.2.{1 + number % 4 // 3}", number), at_ns)
    assert admission.open() == MOST_UNPROVED - 8  # three in four are from .1, which has its share
    for number in range(8):
        admission.enter(peer(f"198.51.100.{number}", 1), at_ns)
    entry = admission.enter(peer("203.0.113.7", 1), at_ns + NS_PER_S)
    assert entry.admitted
    assert entry.gives_way is not None
    assert entry.gives_way[0] == "192.0.2.1"
    assert admission.open() == MOST_UNPROVED


def test_places_of_those_who_have_proved_themselves_are_apart() -> None:
    admission, at_ns = Admission(0), 0
    for number in range(MOST_PROVED):
        at_ns += NS_PER_S
        assert admission.enter(peer("192.0.2.9", number), at_ns).admitted
        assert admission.prove(peer("192.0.2.9", number), at_ns)
    assert admission.proved() == MOST_PROVED
    for number in range(3 * MOST_UNPROVED):  # whatever strangers do, nobody inside gives way
        at_ns += NS_PER_S
        entry = admission.enter(peer(f"198.51.100.{number}", 1), at_ns)
        assert entry.admitted
        assert entry.gives_way is None or entry.gives_way[0].startswith("198")
    assert admission.proved() == MOST_PROVED
    assert not admission.prove(peer(f"198.51.100.{3 * MOST_UNPROVED - 1}", 1), at_ns)


def test_one_address_cannot_keep_the_station_busy_with_handshakes() -> None:
    admission = Admission(0)
    came = 0
    for number in range(1000):
        if admission.enter(peer("192.0.2.1", number), 1).admitted:
            came += 1
            admission.leave(peer("192.0.2.1", number))
    assert came == BURST_FROM_ONE
    assert admission.open() == 0
    assert admission.enter(peer("192.0.2.2", 1), 1).admitted


def test_many_addresses_together_cannot_either() -> None:
    admission = Admission(0)
    came = 0
    for number in range(5000):
        one = peer(f"2001:db8:{number:x}::1", 1)
        if admission.enter(one, 1).admitted:
            came += 1
            admission.leave(one)
    assert came == BURST
    later = sum(
        admission.enter(peer(f"2001:db8:1:{n:x}::1", 1), NS_PER_S).admitted for n in range(1000)
    )
    assert later <= PER_SECOND + 1
    assert len(admission._buckets) <= 256


def test_who_proved_a_key_comes_back_through_any_flood_from_elsewhere() -> None:
    admission = Admission(0)
    admission.enter(peer("192.0.2.7", 1), 0)
    assert admission.prove(peer("192.0.2.7", 1), 0)
    admission.leave(peer("192.0.2.7", 1))
    for number in range(5000):
        admission.enter(peer(f"2001:db8:{number:x}::1", 1), 1)
    assert not admission.enter(peer("203.0.113.1", 1), 1).admitted
    assert admission.enter(peer("192.0.2.7", 2), 1).admitted


def test_all_addresses_of_one_computer_are_one() -> None:
    assert source_of("2001:db8::1") == source_of("2001:db8::ffff:1") != source_of("2001:db8:0:1::1")
    assert plain_address("::ffff:192.0.2.1") == "192.0.2.1" == source_of("::ffff:192.0.2.1")
    assert plain_address("fe80::1%eth0") == "fe80::1"
    assert plain_address("no address") == "no address"


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["comes", "proves", "leaves"]),
            st.sampled_from("abc"),
            st.integers(0, 50),
            st.integers(0, NS_PER_S // 4),
        )
    ),
)
def test_what_is_open_is_counted_right(events: list[tuple[str, str, int, int]]) -> None:
    admission, at_ns = Admission(0), 0
    unproved: set[Peer] = set()
    proved: set[Peer] = set()
    for what, address, port, wait_ns in events:
        at_ns += wait_ns
        one = peer(address, port)
        if what == "comes" and one not in unproved | proved:
            entry = admission.enter(one, at_ns)
            if entry.admitted:
                unproved.add(one)
            if entry.gives_way is not None:
                unproved.remove(entry.gives_way)
        elif what == "proves" and admission.prove(one, at_ns):
            unproved.remove(one)
            proved.add(one)
        elif what == "leaves":
            admission.leave(one)
            unproved.discard(one)
            proved.discard(one)
        assert admission.open() == len(unproved) + len(proved)
        assert len(unproved) <= MOST_UNPROVED
        assert admission.proved() == len(proved) <= MOST_PROVED
        for name in "abc":
            assert sum(p[0] == name for p in unproved) <= MOST_UNPROVED_FROM_ONE


def test_a_stranger_may_say_what_a_proof_takes_and_no_more() -> None:
    quota = Quota(0)
    assert quota.take_bytes(UNPROVED_BYTES, 0)
    assert not quota.take_bytes(1, 3600 * NS_PER_S)  # waiting does not help
    assert sum(quota.take_frame(3600 * NS_PER_S) for _ in range(100)) == UNPROVED_FRAMES


def test_a_console_may_say_as_much_as_the_conversation_allows_and_no_more() -> None:
    quota = Quota(0)
    quota.prove(0)
    assert all(quota.take_frame(n * NS_PER_S // 50) for n in range(3000))
    came = sum(quota.take_frame(60 * NS_PER_S) for _ in range(3000))
    assert PROVED_FRAMES_PER_SECOND < came <= PROVED_FRAMES_BURST
