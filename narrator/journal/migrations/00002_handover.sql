-- +goose Up
-- Whether a job is still the bay's is told by the events with which it changed bay.
DROP INDEX event_of_entry;
CREATE INDEX event_of_entry ON event (job, seq) WHERE seq = 1 OR kind IN ('opened', 'finished', 'undone', 'handed', 'taken over');
