"""Where jobs and records live on disk: the only readers and writers of job folders."""
