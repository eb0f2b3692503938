"""Accounts, sessions, invitations and the trail, as the file keeps them."""

import stat
from threading import Thread

import pytest

from stillwell.problem import Refusal
from stillwell.store.accounts import TRAIL_KEPT_MS, Account, Accounts, Invitation, Session, Trace, key_of

pytestmark = pytest.mark.base

NOW_MS = 1_780_000_000_000
TOM = Account("tom", "fitter", "", "hash", NOW_MS)


def invited(token="t", role="fitter", name="", by="", ends_ms=NOW_MS + 1000):
    return Invitation(key_of(token), role, name, "", by, ends_ms)


@pytest.fixture
def accounts(tmp_path):
    made = Accounts(tmp_path / "folder" / "accounts")
    yield made
    made.close()


def with_tom(accounts):
    accounts.invite(invited())
    assert accounts.accept(key_of("t"), TOM)


def session(token="s", ends_ms=NOW_MS + 1000):
    return Session(key_of(token), "tom", NOW_MS, NOW_MS, ends_ms, "127.0.0.1")


def test_only_its_owner_may_read_the_file(tmp_path, accounts):
    assert stat.S_IMODE((tmp_path / "folder" / "accounts").stat().st_mode) == 0o600


def test_a_place_that_cannot_be_written_is_refused(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(Refusal, match="accounts cannot be opened"):
        Accounts(tmp_path / "file" / "accounts")
    with pytest.raises(Refusal, match="accounts cannot be opened"):
        Accounts(tmp_path)


def test_what_is_no_database_is_refused(tmp_path):
    (tmp_path / "accounts").write_bytes(b"no database, but something that somebody wants to keep" * 100)
    with pytest.raises(Refusal, match="not a database"):
        Accounts(tmp_path / "accounts")


def test_an_account_is_made_by_an_invitation_and_only_once(accounts):
    assert not accounts.there_are()
    with_tom(accounts)
    assert accounts.there_are()
    assert accounts.account("tom") == TOM
    assert not accounts.accept(key_of("t"), Account("eve", "fitter", "", "hash", NOW_MS))
    assert accounts.accounts() == [TOM]


def test_an_invitation_ends(accounts):
    accounts.invite(invited())
    late = Account("tom", "fitter", "", "hash", NOW_MS + 1000)
    assert accounts.invitation(key_of("t"), NOW_MS + 999) is not None
    assert accounts.invitation(key_of("t"), NOW_MS + 1000) is None
    assert not accounts.accept(key_of("t"), late)


def test_an_open_invitation_takes_nobodys_name(accounts):
    with_tom(accounts)
    accounts.invite(invited("u"))
    assert not accounts.accept(key_of("u"), Account("tom", "fitter", "", "another", NOW_MS))
    assert accounts.account("tom") == TOM


def test_a_link_for_somebody_sets_their_password_and_nothing_else(accounts):
    with_tom(accounts)
    accounts.begin_session(session())
    accounts.invite(invited("u", "family", "tom", "tom"))
    assert not accounts.accept(key_of("u"), Account("eve", "fitter", "", "another", NOW_MS))
    assert accounts.accept(key_of("u"), Account("tom", "family", "", "another", NOW_MS + 5))
    assert accounts.account("tom") == Account("tom", "fitter", "", "another", NOW_MS)
    assert accounts.session(key_of("s"), NOW_MS) is None


def test_sessions_end_by_time_by_hand_and_with_their_account(accounts):
    with_tom(accounts)
    for token in "abc":
        accounts.begin_session(session(token))
    assert accounts.session(key_of("a"), NOW_MS + 999) == (session("a"), TOM)
    assert accounts.session(key_of("a"), NOW_MS + 1000) is None
    accounts.seen(key_of("a"), NOW_MS + 500, NOW_MS + 2000)
    assert accounts.session(key_of("a"), NOW_MS + 1999) is not None
    accounts.end_session(key_of("b"))
    assert [one.key for one in accounts.sessions_of("tom", NOW_MS)] == [key_of("a"), key_of("c")]
    assert accounts.end_sessions("tom", key_of("a")) == 1
    accounts.invite(invited("u"))
    accounts.accept(key_of("u"), Account("eve", "fitter", "", "hash", NOW_MS))
    assert accounts.remove("tom")
    assert accounts.session(key_of("a"), NOW_MS) is None


def test_the_last_fitter_stays(accounts):
    with_tom(accounts)
    accounts.invite(invited("u", "family"))
    accounts.accept(key_of("u"), Account("lene", "family", "", "hash", NOW_MS))
    assert not accounts.remove("tom")
    assert accounts.remove("lene")
    assert not accounts.remove("nobody")


def test_the_trail_is_kept_for_so_long_and_tells_the_latest_first(accounts):
    old, new = Trace(NOW_MS, "tom", "signed in", "", "::1"), Trace(NOW_MS + TRAIL_KEPT_MS + 1, "tom", "left", "", "::1")
    accounts.note(old)
    assert accounts.trail(5) == [old]
    accounts.note(new)
    assert accounts.trail(5) == [new]


def test_a_secret_is_drawn_once_and_stays(tmp_path, accounts):
    first = accounts.secret("cookies")
    again = Accounts(tmp_path / "folder" / "accounts")
    assert again.secret("cookies") == first != again.secret("other")
    assert len(first) == 64
    again.close()


def test_no_token_is_in_the_file(tmp_path, accounts):
    with_tom(accounts)
    accounts.begin_session(session("a token of a session"))
    accounts.invite(invited("a token of an invitation"))
    accounts.close()
    for path in (tmp_path / "folder").iterdir():
        assert b"a token of" not in path.read_bytes()


def test_of_many_who_take_one_link_at_once_one_gets_in(accounts):
    accounts.invite(invited())
    taken = []

    def take(number):
        taken.append(accounts.accept(key_of("t"), Account(f"tom{number}", "fitter", "", "hash", NOW_MS)))

    threads = [Thread(target=take, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert taken.count(True) == 1
    assert len(accounts.accounts()) == 1
