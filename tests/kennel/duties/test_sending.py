"""Sending by a real mail server: looked at again right before, handed over once, tried again on failure."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.db import connections

from kennel.duties.services import claims, sending
from kennel.people.models import Carer, Membership
from tests.kennel.duties.mail import Sink
from tests.kennel.duties.scenes import CountQueries, Scene, minutes, utc
from tests.web.pages import Pages, words

DUE = utc("2026-02-03 17:00")


def seconds(count: float) -> timedelta:
    return timedelta(seconds=count)


@pytest.fixture
def alone(scene: Scene, sink: Sink) -> Scene:
    """Oona alone is on duty; the softened food of 17:00 is released."""
    scene.shift(scene.oona, "16:00", "22:00")
    scene.routine()
    scene.release(DUE)
    return scene


def test_a_mail_says_what_is_due_and_says_that_a_machine_sent_it(alone: Scene, sink: Sink) -> None:
    assert alone.send(DUE).accepted == 1
    mail = sink.to(alone.oona.email)[0]
    assert mail["Subject"] == "Hollin Bank: Softened food: due 17:00"
    assert "120 g for moss, rust, slate." in str(mail.get_payload())
    assert "Take care: Not warmer than the hand." in str(mail.get_payload())
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["List-Unsubscribe"] is None
    stored = alone.messages()[0]
    assert (stored["state"], stored["accepted_at"] >= DUE, stored["claim_token"]) == ("accepted", True, None)
    assert mail["Message-ID"] == f"<reminder-{stored['uid']}@127.0.0.1>"


def test_each_reader_gets_their_own_units_and_only_animals_still_outstanding(
    alone: Scene, sink: Sink, weighings_close_duties: None
) -> None:
    Carer.objects.filter(pk=alone.oona.pk).update(mass_unit="oz")
    alone.weigh(alone.pups[0], DUE + seconds(5))
    alone.send(DUE + seconds(10))
    # 80 g are 2.8 oz (international avoirdupois ounce, 28.349523125 g).
    assert "2.8 oz for rust, slate." in str(sink.taken[0].get_payload())


def test_a_caution_about_an_animal_that_is_settled_is_said_no_more(
    alone: Scene, sink: Sink, weighings_close_duties: None
) -> None:
    alone.send(DUE)
    assert "Take care: moss eats too fast." in str(sink.taken[-1].get_payload())
    page = f"due/{alone.duties()[0]['uid']}"
    pages = Pages(alone.place, alone.oona)
    assert "moss eats too fast." in words(pages.get(page))
    alone.weigh(alone.pups[0], DUE + seconds(5))
    assert alone.send(DUE + minutes(15)).accepted == 3
    later = str(sink.taken[-1].get_payload())
    assert "Take care: Not warmer than the hand." in later
    assert "too fast" not in later
    assert "too fast" not in words(pages.get(page))


def test_what_is_done_before_the_mail_goes_out_is_not_mailed(
    alone: Scene, sink: Sink, weighings_close_duties: None
) -> None:
    for pup in alone.pups:
        alone.weigh(pup, DUE + seconds(5))
    assert alone.send(DUE + seconds(10)).in_all == 0
    assert sink.taken == []


def test_what_is_deleted_between_claim_and_hand_over_is_dropped(alone: Scene, sink: Sink) -> None:
    alone.remove("duty", alone.duties()[0]["uid"], DUE + seconds(1))
    alone.rows(
        "UPDATE duties_reminder SET state = 'pending', next_attempt_at = scheduled_at WHERE kennel_id = %(k)s RETURNING id"
    )
    assert alone.send(DUE + seconds(2)).dropped == 1
    assert alone.messages("email", "step = 0")[0]["state"] == "cancelled"


def test_somebody_who_left_or_switched_it_off_gets_nothing(alone: Scene, sink: Sink) -> None:
    Membership.objects.filter(carer=alone.oona).update(ended_at=DUE)
    assert alone.send(DUE + seconds(1)).dropped == 1
    first = alone.messages("email", "step = 0")[0]
    assert (first["state"], first["problem"]) == ("suppressed", "no longer a member")
    assert sink.taken == []


def test_an_address_that_lost_its_confirmation_is_undelivered_and_the_next_is_told_at_once(
    alone: Scene, sink: Sink
) -> None:
    from allauth.account.models import EmailAddress

    EmailAddress.objects.filter(user=alone.oona).update(verified=False)
    assert alone.send(DUE + seconds(1)).undelivered == 1
    assert alone.messages("email", "step = 0")[0]["problem"] == "address not confirmed"
    assert alone.send(DUE + seconds(3)).accepted == 2
    assert {m["X-Envelope-To"] for m in sink.taken} == {alone.maud.email, alone.idris.email}


def test_the_next_in_the_chain_is_told_when_nobody_acted(alone: Scene, sink: Sink) -> None:
    alone.send(DUE)
    assert alone.send(DUE + minutes(14)).in_all == 0
    assert alone.send(DUE + minutes(15)).accepted == 3
    assert "was due 17:00, not confirmed" in str(sink.to(alone.idris.email)[0]["Subject"])


def test_while_it_is_taken_the_escalation_waits_and_then_goes_on(alone: Scene, sink: Sink) -> None:
    alone.send(DUE)
    alone.act(alone.duties()[0]["uid"], "take", alone.oona, DUE + minutes(5))
    assert alone.send(DUE + minutes(15)).put_off == 3
    assert alone.send(DUE + minutes(19)).in_all == 0
    assert alone.send(DUE + minutes(20)).accepted == 3
    assert {m["attempts"] for m in alone.messages("email", "step = 1")} == {1}


def test_a_temporary_no_is_tried_again_as_written(alone: Scene, sink: Sink) -> None:
    sink.data_answer = "451 Try later"
    at = DUE
    for least, most in ((15, 18), (60, 72), (300, 360), (900, 1080)):
        sender = alone.send(at)
        assert sender.retried == 1
        again = alone.messages("email", "step = 0")[0]["next_attempt_at"]
        assert seconds(least) <= again - at <= seconds(most + 2)
        assert alone.send(again - seconds(1), limit=1).in_all == 0 or at > DUE + minutes(5)
        at = again
        alone.rows(
            "UPDATE duties_reminder SET state = 'cancelled' WHERE kennel_id = %(k)s AND step > 0 RETURNING id"
        )
    sink.data_answer = "250 Taken"
    assert alone.send(at).accepted == 1
    assert alone.messages("email", "step = 0")[0]["attempts"] == 5


def test_it_is_given_up_when_the_next_try_would_come_too_late(alone: Scene, sink: Sink) -> None:
    sink.data_answer = "451 Try later"
    alone.rows("UPDATE duties_reminder SET attempts = 4 WHERE kennel_id = %(k)s AND step = 0 RETURNING id")
    assert alone.send(DUE + minutes(10)).undelivered == 1
    first = alone.messages("email", "step = 0")[0]
    assert (first["state"], first["problem"]) == ("undelivered", "the mail server said 451")


def test_a_final_no_is_undelivered_at_once_and_the_next_is_told(alone: Scene, sink: Sink) -> None:
    sink.rcpt_answer = "550 No such person"
    assert alone.send(DUE).undelivered == 1
    sink.rcpt_answer = None
    assert alone.send(DUE + seconds(5)).accepted == 3


def test_a_mail_server_that_is_away_is_tried_again_even_for_a_digest(alone: Scene, settings: object) -> None:
    settings.EMAIL_PORT = 9  # type: ignore[attr-defined]  # discard: nobody listens
    assert alone.send(DUE).retried == 1
    assert alone.messages("email", "step = 0")[0]["problem"].startswith("no connection to the mail server")


def test_a_line_that_breaks_after_the_hand_over_is_sent_again_under_the_same_id(
    alone: Scene, sink: Sink
) -> None:
    sink.hang_after, sink.hang_s = 1, 4.0
    first = alone.send(DUE)
    assert (first.retried, len(sink.taken)) == (1, 1)
    sink.hang_after = None
    assert alone.send(DUE + minutes(1)).accepted == 1
    assert len(set(sink.ids())) == 1 < len(sink.ids())


def test_an_info_whose_hand_over_is_unknown_is_not_sent_again(scene: Scene, sink: Sink) -> None:
    scene.shift(scene.oona, "16:00", "22:00")
    scene.routine(kind="test-weigh")
    scene.release(DUE)
    sink.hang_after, sink.hang_s = 1, 4.0
    assert scene.send(DUE).undelivered == 1
    assert scene.messages()[0]["problem"].startswith("unknown")


def test_one_bad_message_does_not_hold_up_the_others(scene: Scene, sink: Sink) -> None:
    scene.routine()
    scene.release(DUE)
    sink.data_answers = ["451 Try later", "250 Taken", "250 Taken"]
    done = scene.send(DUE)
    assert (done.retried, done.accepted) == (1, 2)


def test_a_claim_that_was_overtaken_writes_nothing(alone: Scene, sink: Sink) -> None:
    ours = claims.claim("email", DUE, 10)
    theirs = claims.claim("email", DUE + seconds(61), 10)
    assert theirs.ids == ours.ids
    assert claims.accepted(ours, ours.ids[0], DUE, "s", "b") is False
    assert claims.finish(ours, [claims.End(ours.ids[0], "undelivered")]) == 0
    assert claims.accepted(theirs, ours.ids[0], DUE, "s", "b") is True


def test_a_leased_message_is_not_claimed_again_before_the_lease_is_over(alone: Scene, sink: Sink) -> None:
    assert len(claims.claim("email", DUE, 10).ids) == 1
    assert claims.claim("email", DUE + seconds(59), 10).ids == ()
    assert len(claims.claim("email", DUE + seconds(60), 10).ids) == 1


def test_a_batch_that_takes_too_long_gives_the_rest_back(
    scene: Scene, sink: Sink, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene.routine()
    scene.release(DUE)
    # Pretend that 45 s pass with every look at the monotonic clock; the lease is 60 s, an attempt may take 20
    # s.
    ticking = iter(range(0, 45 * 100, 45))
    monkeypatch.setattr(sending, "time", SimpleNamespace(monotonic=lambda: float(next(ticking))))
    done = scene.send(DUE)
    assert (done.accepted, done.given_back) == (0, 3)
    monkeypatch.undo()
    assert scene.send(DUE + minutes(5)).accepted == 3
    assert {m["attempts"] for m in scene.messages("email", "step = 0")} == {1}


def test_a_message_called_off_while_it_was_on_its_way_stays_called_off_but_says_when_it_arrived(
    alone: Scene, sink: Sink
) -> None:
    ours = claims.claim("email", DUE, 10)
    alone.act(alone.duties()[0]["uid"], "skip", alone.oona, DUE, note="asleep")
    assert claims.accepted(ours, ours.ids[0], DUE + seconds(1), "s", "b") is True
    first = alone.messages("email", "step = 0")[0]
    assert (first["state"], first["accepted_at"]) == ("cancelled", DUE + seconds(1))


def test_no_transaction_is_open_while_a_mail_is_handed_over(
    alone: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    from kennel.duties.channels import Outcome, Outgoing, Result
    from kennel.duties.channels.email import _Post

    seen: list[bool] = []

    def deliver(self: _Post, message: Outgoing) -> Result:
        seen.extend(connections[alias].in_atomic_block for alias in ("default", "jobs"))
        return Result(Outcome.ACCEPTED)

    monkeypatch.setattr(_Post, "deliver", deliver)
    alone.send(DUE)
    assert seen == [False, False]


def test_sending_costs_a_fixed_number_of_statements_for_a_batch_plus_one_step_per_message(
    scene: Scene, sink: Sink, count_queries: CountQueries
) -> None:
    counts = {}
    for pups in (3, 30):
        kennel = Scene(pups=pups)
        kennel.routine()
        kennel.release(DUE)
        with count_queries("jobs") as counted:
            assert kennel.send(DUE).accepted == 3
        counts[pups] = len(counted)
    assert counts[3] == counts[30]
