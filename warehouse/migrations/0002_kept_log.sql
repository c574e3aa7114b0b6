-- What reports show of a session beside its figures, so that it need not be worked
-- out again where nothing changed that it depends on. For the program alone: no
-- definition may read it.
create table kept_log (
    session_id varchar not null,
    basis varchar not null,     -- hash of all that the log depends on
    body blob not null          -- the log as JSON, deflated
);

-- Figures came with two digits more until now: all are to be computed again.
update figure set basis = '';
