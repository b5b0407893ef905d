import stat
from pathlib import Path

import pytest

from drainscale.errors import ServerError
from drainscale.messages.topics import BenchId
from drainscale_server.broker.credentials import FILE_NAME, Credentials, user_of
from drainscale_server.broker.passwords import Hashed, hashed, is_password, new_password

pytestmark = pytest.mark.usefixtures("quick_passwords")
BAY_1, BAY_2 = BenchId("north", "bay-1"), BenchId("north", "bay-2")


def test_an_enrolled_bench_is_known_by_its_password_only(tmp_path: Path) -> None:
    credentials = Credentials(tmp_path)
    password = credentials.enrol(BAY_1)
    assert credentials.is_bench("north/bay-1", password)
    assert not credentials.is_bench("north/bay-1", password + "x")
    assert not credentials.is_bench("north/bay-2", password)


def test_two_passwords_differ_and_have_128_bits_and_more() -> None:
    # ETSI EN 303 645, 5.1-2: pre-set passwords are not guessable
    one, other = new_password(), new_password()
    assert one != other
    assert len(one) >= 128 / 6


def test_the_file_is_for_its_owner_and_holds_no_password(tmp_path: Path) -> None:
    password = Credentials(tmp_path).enrol(BAY_1)
    kept = tmp_path / FILE_NAME
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert password not in kept.read_text()


def test_a_file_that_others_may_read_is_refused(tmp_path: Path) -> None:
    Credentials(tmp_path).enrol(BAY_1)
    (tmp_path / FILE_NAME).chmod(0o640)
    with pytest.raises(ServerError, match="chmod 600"):
        Credentials(tmp_path)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format":2}', '{"benches":{"a":1}}'])
def test_a_damaged_file_is_refused(tmp_path: Path, text: str) -> None:
    kept = tmp_path / FILE_NAME
    kept.write_text(text)
    kept.chmod(0o600)
    with pytest.raises(ServerError, match=FILE_NAME):
        Credentials(tmp_path)


def test_what_another_process_wrote_counts_at_once(tmp_path: Path) -> None:
    running, command = Credentials(tmp_path), Credentials(tmp_path)
    password = command.enrol(BAY_1)
    assert running.is_bench("north/bay-1", password)
    assert command.revoke(BAY_1)
    assert not running.is_bench("north/bay-1", password)
    assert running.made_s("north/bay-1") is None


def test_enrolling_again_puts_a_new_password_in_place_of_the_old(tmp_path: Path) -> None:
    credentials = Credentials(tmp_path)
    old, other = credentials.enrol(BAY_1), credentials.enrol(BAY_2)
    new = credentials.enrol(BAY_1)
    assert not credentials.is_bench("north/bay-1", old)
    assert credentials.is_bench("north/bay-1", new)
    assert credentials.is_bench("north/bay-2", other)


def test_revoking_whom_nobody_enrolled_says_so(tmp_path: Path) -> None:
    assert not Credentials(tmp_path).revoke(BAY_1)


def test_the_pages_have_a_password_of_their_own(tmp_path: Path) -> None:
    credentials = Credentials(tmp_path)
    assert not credentials.has_web_password
    password = credentials.new_web_password()
    assert credentials.has_web_password
    assert credentials.is_web(password)
    assert not credentials.is_web(credentials.enrol(BAY_1))


def test_no_password_is_so_long_that_hashing_it_hurts() -> None:
    assert not is_password("x" * 1_000_000, hashed("x"))


def test_scrypt_is_that_of_the_standard() -> None:
    # RFC 7914, section 12, third vector
    digest = (
        "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2"
        "d5432955613f0fcf62d49705242a9af9e61e85dc0d651e40dfcf017b45575887"
    )
    kept = Hashed(b"SodiumChloride".hex(), digest, 16384, 8, 1)
    assert is_password("pleaseletmein", kept)


def test_a_bench_logs_in_by_site_and_name() -> None:
    assert user_of(BAY_1) == "north/bay-1"
