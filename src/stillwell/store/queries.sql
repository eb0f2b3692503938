-- name: tables_there
SELECT COUNT(*) FROM version;

-- name: version
SELECT MAX(number) FROM version;

-- name: set_version
INSERT INTO version (number) VALUES (:number);

-- name: opened
SELECT times FROM owner WHERE one = 1;

-- name: open_as_owner
INSERT INTO owner (one, times) VALUES (1, 1) ON CONFLICT (one) DO UPDATE SET times = owner.times + 1;

-- name: last_event
SELECT COALESCE(MAX(seq), 0) FROM event;

-- name: add_event
INSERT INTO event (seq, at_ms, stamped_ms, signal, value, source, source_seq, late)
VALUES (:seq, :at_ms, :stamped_ms, :signal, :value, :source, :source_seq, :late)
ON CONFLICT (seq) DO NOTHING;

-- name: seen_before
SELECT 1 FROM event
WHERE source = :source AND source_seq = :source_seq AND at_ms >= :since_ms AND signal = :signal
LIMIT 1;

-- name: events_after
SELECT seq, at_ms, signal, value, stamped_ms, source, source_seq, late FROM event
WHERE seq > :seq ORDER BY seq LIMIT :most;

-- name: events_between
SELECT seq, at_ms, signal, value, stamped_ms, source, source_seq, late FROM event
WHERE +at_ms >= :from_ms AND +at_ms < :until_ms AND seq > :seq AND seq <= :last ORDER BY seq LIMIT :most;

-- name: seqs_between
SELECT MIN(seq), MAX(seq) FROM event WHERE at_ms >= :from_ms AND at_ms < :until_ms;

-- name: span_of_events
SELECT (SELECT MIN(at_ms) FROM event), (SELECT MAX(at_ms) FROM event);

-- name: last_reports
SELECT signal, MAX(at_ms) FROM event WHERE at_ms >= :since_ms GROUP BY signal;

-- name: add_plan
INSERT INTO plan (fingerprint, text, at_ms, by_whom) VALUES (:fingerprint, :text, :at_ms, :by_whom)
ON CONFLICT (fingerprint) DO NOTHING;

-- name: plan_text
SELECT text FROM plan WHERE fingerprint = :fingerprint;

-- name: state
SELECT taken_seq, decided_ms, plan, snapshot FROM state WHERE one = 1;

-- name: set_state
INSERT INTO state (one, taken_seq, decided_ms, plan, snapshot)
VALUES (1, :taken_seq, :decided_ms, :plan, :snapshot)
ON CONFLICT (one) DO UPDATE SET taken_seq = EXCLUDED.taken_seq, decided_ms = EXCLUDED.decided_ms,
    plan = EXCLUDED.plan, snapshot = EXCLUDED.snapshot;

-- name: last_fact
SELECT COALESCE(MAX(number), 0) FROM fact;

-- name: add_fact
INSERT INTO fact (number, at_ms, what, subject, by_whom, why)
VALUES (:number, :at_ms, :what, :subject, :by_whom, :why)
ON CONFLICT (number) DO NOTHING;

-- name: facts
SELECT at_ms, what, subject, by_whom, why FROM fact
WHERE at_ms >= :from_ms AND at_ms < :until_ms ORDER BY number LIMIT :most;

-- name: last_facts
SELECT at_ms, what, subject, by_whom, why FROM fact ORDER BY number DESC LIMIT :most;

-- name: facts_of
SELECT at_ms, what, subject, by_whom, why FROM fact
WHERE what = :what ORDER BY number DESC LIMIT :most;

-- name: add_message
INSERT INTO outbox (key, alarm, person, channel, at_ms, asked_at_ms, raised_at_ms, drill, attempts, next_try_ms,
    sent_ms, ended_ms, why)
VALUES (:key, :alarm, :person, :channel, :at_ms, :asked_at_ms, :raised_at_ms, :drill, :attempts, :next_try_ms,
    :sent_ms, :ended_ms, :why)
ON CONFLICT (key) DO NOTHING;

-- name: mark_message
UPDATE outbox SET attempts = :attempts, next_try_ms = :next_try_ms, sent_ms = :sent_ms, ended_ms = :ended_ms,
    why = :why
WHERE key = :key;

-- name: open_messages
SELECT key, alarm, person, channel, at_ms, asked_at_ms, raised_at_ms, drill, attempts, next_try_ms, sent_ms,
    ended_ms, why
FROM outbox WHERE ended_ms IS NULL ORDER BY at_ms, key;

-- name: messages_between
SELECT key, alarm, person, channel, at_ms, asked_at_ms, raised_at_ms, drill, attempts, next_try_ms, sent_ms,
    ended_ms, why
FROM outbox WHERE at_ms >= :from_ms AND at_ms < :until_ms ORDER BY at_ms, key LIMIT :most;

-- name: messages_of_asking
SELECT key, alarm, person, channel, at_ms, asked_at_ms, raised_at_ms, drill, attempts, next_try_ms, sent_ms,
    ended_ms, why
FROM outbox WHERE alarm = :alarm AND asked_at_ms = :asked_at_ms AND at_ms >= :asked_at_ms ORDER BY at_ms, key;

-- name: add_command
INSERT INTO command (key, part, switch_on, at_ms, attempts, next_try_ms, sent_ms, confirmed_ms, ended_ms, why)
VALUES (:key, :part, :switch_on, :at_ms, :attempts, :next_try_ms, :sent_ms, :confirmed_ms, :ended_ms, :why)
ON CONFLICT (key) DO NOTHING;

-- name: mark_command
UPDATE command SET attempts = :attempts, next_try_ms = :next_try_ms, sent_ms = :sent_ms,
    confirmed_ms = :confirmed_ms, ended_ms = :ended_ms, why = :why
WHERE key = :key;

-- name: open_commands
SELECT key, part, switch_on, at_ms, attempts, next_try_ms, sent_ms, confirmed_ms, ended_ms, why
FROM command WHERE ended_ms IS NULL ORDER BY at_ms, key;

-- name: commands_between
SELECT key, part, switch_on, at_ms, attempts, next_try_ms, sent_ms, confirmed_ms, ended_ms, why
FROM command WHERE at_ms >= :from_ms AND at_ms < :until_ms ORDER BY at_ms, key LIMIT :most;

-- name: add_answer
INSERT INTO answer (token, alarm, by_whom, word, at_ms) VALUES (:token, :alarm, :by_whom, :word, :at_ms)
ON CONFLICT (token) DO NOTHING;

-- name: answer
SELECT alarm, by_whom, word, at_ms FROM answer WHERE token = :token;

-- name: add_unread
INSERT INTO unread (reason, source, times, first_ms, last_ms)
VALUES (:reason, :source, :times, :first_ms, :last_ms)
ON CONFLICT (reason, source) DO UPDATE SET times = unread.times + EXCLUDED.times, last_ms = EXCLUDED.last_ms;

-- name: unread
SELECT reason, source, times, first_ms, last_ms FROM unread ORDER BY last_ms DESC, reason, source;

-- name: add_counter
INSERT INTO counter (name, number) VALUES (:name, :number)
ON CONFLICT (name) DO UPDATE SET number = EXCLUDED.number;

-- name: counters
SELECT name, number FROM counter ORDER BY name;

-- name: erase_events
DELETE FROM event WHERE at_ms >= :from_ms AND at_ms < :until_ms
    AND seq <= COALESCE((SELECT taken_seq FROM state), 0);

-- name: forget_events
DELETE FROM event WHERE seq IN (
    SELECT seq FROM event WHERE at_ms < :until_ms AND seq <= COALESCE((SELECT taken_seq FROM state), 0)
    ORDER BY at_ms LIMIT :most);

-- name: erase_facts
DELETE FROM fact WHERE at_ms >= :from_ms AND at_ms < :until_ms;

-- name: erase_messages
DELETE FROM outbox WHERE at_ms >= :from_ms AND at_ms < :until_ms AND ended_ms IS NOT NULL;

-- name: erase_commands
DELETE FROM command WHERE at_ms >= :from_ms AND at_ms < :until_ms AND ended_ms IS NOT NULL;

-- name: erase_answers
DELETE FROM answer WHERE at_ms >= :from_ms AND at_ms < :until_ms;

-- name: erase_unread
DELETE FROM unread WHERE last_ms >= :from_ms AND last_ms < :until_ms;
