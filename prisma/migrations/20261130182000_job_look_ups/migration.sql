-- What a worker and the page of jobs look for each second is found without reading what is done; an older version works on.
create index job_active on jobs.job (worker) where state = 'active';
create index job_failed on jobs.job (completed_on) where state = 'failed';
