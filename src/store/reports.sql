create table report(
  no integer primary key autoincrement,
  id text not null unique,
  about text,
  body text not null);
create index report_about on report(about);
create table decision(
  no integer primary key autoincrement,
  report integer not null references report(no),
  body text not null);
create index decision_report on decision(report, no);
-- What was said in the field and what was decided about it only ever grows.
create trigger report_kept before update on report
  begin select raise(abort, 'a report is never changed'); end;
create trigger report_stays before delete on report
  begin select raise(abort, 'a report is never deleted'); end;
create trigger decision_kept before update on decision
  begin select raise(abort, 'a decision is never changed'); end;
create trigger decision_stays before delete on decision
  begin select raise(abort, 'a decision is never deleted'); end;
