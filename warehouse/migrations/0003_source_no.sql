-- A source's number, which its readings have too: looked for by it, parts of the
-- table that hold none of them are passed over, which a text does not allow.
alter table source add column source_no integer;
alter table reading add column source_no integer;
update source set source_no = n from (select source_id as id, row_number() over (order by source_id)::integer as n from source) where source_id = id;
update reading set source_no = source.source_no from source where reading.source_id = source.source_id;

-- The source that this one goes on from: a logger that began another file. NULL: none.
-- Its rows count from where the one before it ends; joined_u_s is the uncertainty of the
-- clocks of all that are joined, of the first of them.
alter table source add column continues varchar;
alter table source add column continues_after timestamptz;
alter table source add column joined_u_s double;

-- Figures of sessions with such sources come out otherwise.
update figure set basis = '';
