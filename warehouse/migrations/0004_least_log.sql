-- Series of many sessions show each with the fewest rows, so that is kept too, as it
-- is written. Logs are derived: those of before are made again.
drop table kept_log;

create table kept_log (
    session_id varchar not null,
    basis varchar not null,     -- hash of all that the log depends on
    body blob not null,         -- the log as JSON, deflated
    least blob not null         -- the same thinned to the fewest rows, as JSON
);
