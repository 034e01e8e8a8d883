"""Seals of links, their order, and where a record differs from what was signed."""

import hashlib
import json
from dataclasses import replace

import pytest

from jobs.calculations.record_chain import (
    BEGINNING,
    Link,
    differences,
    head_faults,
    moved_from,
    order_faults,
    seal,
    seal_faults,
)
from jobs.calculations.signed_content import canonical_form, signable

KEY, OTHER = b"k" * 32, b"o" * 32
KEYS = {"a": KEY}


def by_hand(key: bytes, text: bytes) -> str:
    """HMAC-SHA256 as RFC 2104 section 2 writes it: H(K xor opad, H(K xor ipad, text)), blocks of 64 bytes."""
    block = key.ljust(64, b"\0")
    inner = hashlib.sha256(bytes(one ^ 0x36 for one in block) + text).digest()
    return hashlib.sha256(bytes(one ^ 0x5C for one in block) + inner).hexdigest()


def chain(count: int) -> list[Link]:
    made: list[Link] = []
    for number in range(1, count + 1):
        before = made[-1].mac if made else BEGINNING
        link = Link(number, f"job-{number}", f"sha256:{number:064x}", "2026-11-28T09:00:00+00:00", before, "a")
        made.append(replace(link, mac=seal(link, KEY)))
    return made


def codes(faults):
    return [one.code for one in faults]


def test_the_mac_by_hand_is_that_of_the_published_vectors():
    # RFC 4231, 4.3: test case 2 for HMAC-SHA-256.
    expected = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert by_hand(b"Jefe", b"what do ya want for nothing?") == expected


def test_a_seal_is_hmac_sha_256_over_the_canonical_text_of_the_link():
    link = Link(2, "J", "sha256:ab", "2026-11-28T09:00:00+00:00", BEGINNING, "a", "whatever it carries")
    text = (
        '{"at":"2026-11-28T09:00:00+00:00","content_hash":"sha256:ab","job":"J","key_id":"a","number":2,'
        f'"previous_mac":"{BEGINNING}"}}'
    ).encode()
    assert seal(link, KEY) == by_hand(KEY, text)


def test_a_whole_chain_has_no_faults():
    made = chain(4)
    for before, link in zip([None, *made], made, strict=False):
        assert seal_faults(link, KEYS) == []
        assert order_faults(link, before) == []


@pytest.mark.parametrize(
    "change",
    [{"number": 9}, {"job": "x"}, {"content_hash": "x"}, {"at": "x"}, {"previous_mac": "x"}, {"mac": "0" * 64}],
)
def test_whatever_of_a_link_is_altered_breaks_its_seal(change):
    assert codes(seal_faults(replace(chain(2)[1], **change), KEYS)) == ["seal-broken"]


def test_another_key_under_the_same_name_proves_nothing():
    assert codes(seal_faults(chain(1)[0], {"a": OTHER})) == ["seal-broken"]


def test_a_key_that_is_not_at_hand_is_said_and_is_no_proof_of_harm():
    (fault,) = seal_faults(chain(1)[0], {"b": KEY})
    assert fault.code == "key-missing"
    assert "'a'" in fault.sentence


def test_a_deleted_link_shows_as_the_number_that_is_missing():
    made = chain(4)
    (fault,) = order_faults(made[2], made[0])
    assert (fault.code, fault.place) == ("link-missing", "link 2")
    assert "Links 2 to 3" in order_faults(made[3], made[0])[0].sentence


def test_a_chain_that_does_not_begin_at_its_beginning_shows():
    made = chain(2)
    assert codes(order_faults(made[1], None)) == ["link-missing"]
    assert codes(order_faults(replace(made[0], previous_mac="f" * 64), None)) == ["order-changed"]


def test_a_link_in_another_place_is_told_with_the_place_it_was_made_for():
    second = replace(chain(3)[1], number=3)
    assert moved_from(second, 1, KEYS) == 2
    assert moved_from(second, 4, KEYS) == 2
    assert moved_from(second, None, KEYS) == 2
    assert moved_from(replace(second, number=200), None, KEYS) is None
    assert moved_from(replace(second, number=200), 1, KEYS) == 2
    assert moved_from(replace(second, job="x"), 1, KEYS) is None


def test_a_cut_end_and_another_chain_show_against_the_exported_head():
    made = chain(3)
    head = {"number": 3, "mac": made[2].mac, "at": "now"}
    assert head_faults(head, made[2], 3) == []
    assert codes(head_faults(head, None, 2)) == ["tail-cut"]
    assert codes(head_faults(head, replace(made[2], mac="0" * 64), 3)) == ["head-differs"]
    assert head_faults({"number": 0, "mac": "", "at": "now"}, None, 0) == []


def test_rows_are_compared_by_their_id_and_the_place_is_named():
    signed = {"steps": [{"id": "s1", "note": "dry"}, {"id": "s2", "note": ""}]}
    now = {"steps": [{"id": "s2", "note": ""}, {"id": "s3", "note": ""}, {"id": "s1", "note": "wet"}], "more": [1]}
    found = dict(differences(signed, now))
    assert set(found) == {"/steps/s1/note", "/steps/s3"}
    assert found["/steps/s1/note"] == "dry was signed; now it is wet."


def test_text_is_not_taken_for_the_number_it_names():
    assert differences({"a": "1"}, {"a": 1})
    assert differences({"a": True}, {"a": 1})


def test_a_list_without_ids_is_compared_by_place():
    assert [place for place, _ in differences({"readings": ["1", "2"]}, {"readings": ["1", "3", "4"]})] == [
        "/readings/1", "/readings/2",
    ]  # fmt: skip
    assert differences({"readings": ["1", "2"]}, {"readings": ["1"]}) == [("/readings/1", "2 was signed; it is gone.")]


def test_floats_of_advice_are_signed_as_the_text_that_names_them():
    # RFC 8785, 3.2.2.3: the shortest text that reads back as the same number; JSON of Python's own says the same.
    assert json.dumps(0.1 + 0.2) == "0.30000000000000004"
    assert signable({"a": [0.1 + 0.2, 1, "x", None, True]}) == {"a": ["0.30000000000000004", 1, "x", None, True]}
    assert canonical_form(signable({"a": 2.5})) == b'{"a":"2.5"}'
