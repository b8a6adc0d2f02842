PRAGMA application_id = 1196442713;
PRAGMA user_version = 1;
CREATE TABLE sessions (
	id              TEXT    NOT NULL PRIMARY KEY,
	title           TEXT    NOT NULL,
	patient         TEXT    NOT NULL,
	prescription    TEXT    NOT NULL,
	started         TEXT,             -- NULL: not known
	offset_min      INTEGER NOT NULL, -- local time at the start is UTC plus this
	date            TEXT,             -- local date of the start; NULL: not known
	ended           TEXT,             -- NULL: not ended, or not known
	length_s        REAL    NOT NULL DEFAULT 0, -- by the monotonic clock, so far or in all
	planned_sets    INTEGER NOT NULL,
	planned_reps    INTEGER NOT NULL,
	planned_breaths INTEGER NOT NULL,
	done_sets       INTEGER NOT NULL DEFAULT 0,
	done_reps       INTEGER NOT NULL DEFAULT 0,
	done_breaths    INTEGER NOT NULL DEFAULT 0,
	rate_start      REAL    NOT NULL, -- breaths per minute
	rate_end        REAL    NOT NULL,
	"match"         TEXT    NOT NULL,
	sound           TEXT    NOT NULL,
	outcome         TEXT    NOT NULL DEFAULT '', -- '': not ended
	reason          TEXT    NOT NULL DEFAULT '',
	source          TEXT    NOT NULL,
	extra           INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE events (
	session      TEXT    NOT NULL REFERENCES sessions(id),
	seq          INTEGER NOT NULL,
	at_s         REAL    NOT NULL, -- since the session's start, monotonic
	kind         TEXT    NOT NULL,
	exercise     INTEGER NOT NULL,
	side         TEXT    NOT NULL,
	set_no       INTEGER NOT NULL,
	rep          INTEGER NOT NULL,
	done_sets    INTEGER NOT NULL, -- the session's totals by then
	done_reps    INTEGER NOT NULL,
	done_breaths INTEGER NOT NULL,
	detail       TEXT    NOT NULL,
	PRIMARY KEY (session, seq)
) STRICT, WITHOUT ROWID;
INSERT INTO sessions VALUES ('aa00000000','First week, right hand','K-204','5f1c','2026-12-01T07:30:00.000Z',60,'2026-12-01','2026-12-01T07:34:00.000Z',240.0,1,10,11,2,10,13,12.0,8.0,'exhale-on-glide','off','completed','','paced',0);
INSERT INTO sessions VALUES ('ab00000000','First week, right hand','K-204','5f1c','2026-12-02T07:30:00.000Z',60,'2026-12-02','2026-12-02T07:31:10.000Z',70.0,1,10,11,0,2,5,12.0,8.0,'exhale-on-glide','off','symptoms','','paced',0);
INSERT INTO sessions VALUES ('ac00000000','First week, right hand','K-204','5f1c','2026-12-03T07:30:00.000Z',60,'2026-12-03','2026-12-03T07:32:50.000Z',170.0,1,10,11,0,1,4,12.0,8.0,'exhale-on-glide','off','symptoms','','paced',0);
INSERT INTO sessions VALUES ('ad00000000','First week, right hand','K-204','5f1c','2026-12-04T07:30:00.000Z',60,'2026-12-04','2026-12-04T07:32:50.000Z',170.0,1,10,11,0,1,4,12.0,8.0,'exhale-on-glide','off','symptoms','','paced',0);
INSERT INTO sessions VALUES ('ae00000000','First week, right hand','K-204','5f1c','2026-12-05T07:30:00.000Z',60,'2026-12-05','2026-12-05T07:32:50.000Z',170.0,1,10,11,0,1,4,12.0,8.0,'exhale-on-glide','off','symptoms','','paced',0);
INSERT INTO sessions VALUES ('af00000000','First week, right hand','K-204','5f1c','2026-12-06T07:30:00.000Z',60,'2026-12-06','2026-12-06T07:32:50.000Z',170.0,1,10,11,0,1,4,12.0,8.0,'exhale-on-glide','off','symptoms','','paced',0);
INSERT INTO sessions VALUES ('ag00000000','First week, right hand','K-204','5f1c','2026-12-07T07:30:00.000Z',60,'2026-12-07','2026-12-07T07:32:50.000Z',170.0,1,10,11,0,1,4,12.0,8.0,'exhale-on-glide','off','symptoms','','paced',0);
INSERT INTO sessions VALUES ('ah00000000','First week, right hand','K-204','5f1c','2026-12-08T07:30:00.000Z',60,'2026-12-08','2026-12-08T07:30:44.000Z',44.0,1,10,11,0,1,4,12.0,8.0,'exhale-on-glide','off','symptoms','','paced',0);
INSERT INTO sessions VALUES ('aj00000000','=left, "first"','','5f1c','2026-12-09T07:30:00.000Z',60,'2026-12-09','2026-12-09T07:30:40.000Z',40.0,1,10,11,0,1,4,12.0,8.0,'exhale-on-glide','off','ended-early','','paced',1);
INSERT INTO sessions VALUES ('ak00000000','First week, right hand','K-204','5f1c','2026-12-10T07:30:00.000Z',60,'2026-12-10','2026-12-10T07:30:44.000Z',44.0,1,10,11,0,1,4,12.0,8.0,'exhale-on-glide','off','interrupted','','paced',0);
INSERT INTO sessions VALUES ('am00000000','First week, right hand','K-204','5f1c',NULL,0,NULL,NULL,130.0,1,10,11,1,10,13,12.0,8.0,'exhale-on-glide','off','completed','','paced',0);
INSERT INTO sessions VALUES ('am00000001','First week, right hand','K-204','5f1c',NULL,0,NULL,NULL,130.0,1,10,11,1,10,13,12.0,8.0,'exhale-on-glide','off','completed','','paced',0);
INSERT INTO sessions VALUES ('d9gthhmm9k','First week, right hand','K-204','5f1c',NULL,0,'2026-12-03',NULL,0.0,1,10,11,0,8,0,12.0,8.0,'exhale-on-glide','','ended-early','','paper',0);
INSERT INTO sessions VALUES ('vd63h88ynq','First week, right hand','K-204','5f1c',NULL,0,'2026-12-04',NULL,0.0,1,10,11,1,10,11,12.0,8.0,'exhale-on-glide','','completed','','paper',0);
INSERT INTO events VALUES ('aa00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('aa00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('aa00000000',2,30.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('aa00000000',3,34.0,'paused',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('aa00000000',4,60.0,'resumed',1,'right',1,0,0,1,4,'');
INSERT INTO events VALUES ('aa00000000',5,70.0,'repetition',1,'right',1,2,0,2,5,'');
INSERT INTO events VALUES ('aa00000000',6,72.0,'sound-lost',0,'',0,0,0,0,3,'');
INSERT INTO events VALUES ('aa00000000',7,75.0,'sound-back',0,'',0,0,0,0,3,'');
INSERT INTO events VALUES ('aa00000000',8,76.0,'enough',1,'right',1,3,1,2,5,'');
INSERT INTO events VALUES ('aa00000000',9,80.0,'stopped',1,'right',1,0,1,2,5,'');
INSERT INTO events VALUES ('aa00000000',10,95.0,'answered',1,'right',1,0,1,2,5,'{"answer":"settled","symptom":"tingling","after_s":15,"rate_per_min":6.4,"reps":8}');
INSERT INTO events VALUES ('aa00000000',11,120.0,'repetition',1,'right',2,1,1,3,6,'');
INSERT INTO events VALUES ('aa00000000',12,240.0,'ended',0,'',0,0,2,10,13,'completed');
INSERT INTO events VALUES ('aa00000000',13,250.0,'rating',0,'',0,0,0,0,0,'{"when":"after","tingling":4,"pain":0}');
INSERT INTO events VALUES ('aa00000000',14,340.0,'settled',0,'',0,0,0,0,0,'{"settled":true,"after_s":100}');
INSERT INTO events VALUES ('aa00000000',1796113800000,0.0,'note',0,'',0,0,0,0,0,'{"text":"hand was cold, \"both\" days","written":"2026-12-01T09:30:00+01:00"}');
INSERT INTO events VALUES ('ab00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('ab00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('ab00000000',2,5.0,'stopped',0,'',0,0,0,0,3,'');
INSERT INTO events VALUES ('ab00000000',3,20.0,'answered',0,'',0,0,0,0,3,'{"answer":"settled","symptom":"tingling","after_s":15,"rate_per_min":6.4,"reps":8}');
INSERT INTO events VALUES ('ab00000000',4,40.0,'stopped',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('ab00000000',5,50.0,'answered',1,'right',1,2,0,1,4,'{"answer":"pause","symptom":"","after_s":10}');
INSERT INTO events VALUES ('ab00000000',6,60.0,'stopped',1,'right',1,3,0,2,5,'');
INSERT INTO events VALUES ('ab00000000',7,70.0,'answered',1,'right',1,3,0,2,5,'{"answer":"pain","symptom":"pain","after_s":10}');
INSERT INTO events VALUES ('ab00000000',8,70.0,'ended',0,'',0,0,0,2,5,'symptoms');
INSERT INTO events VALUES ('ac00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('ac00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('ac00000000',2,40.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('ac00000000',3,44.0,'stopped',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('ac00000000',4,170.0,'answered',1,'right',1,2,0,1,4,'{"answer":"breathing","symptom":"breathing","after_s":126}');
INSERT INTO events VALUES ('ac00000000',5,170.0,'ended',0,'',0,0,0,1,4,'symptoms');
INSERT INTO events VALUES ('ad00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('ad00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('ad00000000',2,40.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('ad00000000',3,44.0,'stopped',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('ad00000000',4,170.0,'answered',1,'right',1,2,0,1,4,'{"answer":"still","symptom":"tingling","after_s":126}');
INSERT INTO events VALUES ('ad00000000',5,170.0,'ended',0,'',0,0,0,1,4,'symptoms');
INSERT INTO events VALUES ('ad00000000',6,200.0,'rating',0,'',0,0,0,0,0,'{"when":"after","tingling":10}');
INSERT INTO events VALUES ('ad00000000',7,320.0,'settled',0,'',0,0,0,0,0,'{"settled":false,"after_s":120}');
INSERT INTO events VALUES ('ae00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('ae00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('ae00000000',2,40.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('ae00000000',3,44.0,'stopped',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('ae00000000',4,170.0,'answered',1,'right',1,2,0,1,4,'{"answer":"none","symptom":"tingling","after_s":126}');
INSERT INTO events VALUES ('ae00000000',5,170.0,'ended',0,'',0,0,0,1,4,'symptoms');
INSERT INTO events VALUES ('af00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('af00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('af00000000',2,40.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('af00000000',3,44.0,'stopped',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('af00000000',4,170.0,'answered',1,'right',1,2,0,1,4,'{"answer":"quit","symptom":"tingling","after_s":126}');
INSERT INTO events VALUES ('af00000000',5,170.0,'ended',0,'',0,0,0,1,4,'symptoms');
INSERT INTO events VALUES ('ag00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('ag00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('ag00000000',2,40.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('ag00000000',3,44.0,'stopped',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('ag00000000',4,170.0,'answered',1,'right',1,2,0,1,4,'{"answer":"too-often","symptom":"tingling","after_s":126}');
INSERT INTO events VALUES ('ag00000000',5,170.0,'ended',0,'',0,0,0,1,4,'symptoms');
INSERT INTO events VALUES ('ag00000000',6,180.0,'answered',0,'',0,0,0,0,0,'{"answer":"breathing","symptom":"breathing","after_s":0}');
INSERT INTO events VALUES ('ah00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('ah00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('ah00000000',2,44.0,'stopped',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('ah00000000',3,44.0,'answered',1,'right',1,2,0,1,4,'{"answer":"too-often","symptom":"tingling","after_s":0}');
INSERT INTO events VALUES ('ah00000000',4,44.0,'ended',0,'',0,0,0,1,4,'symptoms');
INSERT INTO events VALUES ('ah00000000',5,50.0,'answered',0,'',0,0,0,0,0,'{"answer":"pain","symptom":"pain","after_s":0}');
INSERT INTO events VALUES ('aj00000000',0,0.0,'started',0,'',0,0,0,0,0,'');
INSERT INTO events VALUES ('aj00000000',1,30.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('aj00000000',2,40.0,'ended',0,'',0,0,0,1,4,'ended-early');
INSERT INTO events VALUES ('ak00000000',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1},"rules":{"goal":10,"reps_from":6,"add":2,"after":3,"fewer_reps":2,"slower":0.1,"settle_within_ns":120000000000}}');
INSERT INTO events VALUES ('ak00000000',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":2,"pain":0}');
INSERT INTO events VALUES ('ak00000000',2,30.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('ak00000000',3,44.0,'stopped',1,'right',1,2,0,1,4,'');
INSERT INTO events VALUES ('am00000000',0,0.0,'started',0,'',0,0,0,0,0,'');
INSERT INTO events VALUES ('am00000000',1,0.0,'undated',0,'',0,0,0,0,0,'{"n":1,"id":"3f2a91c0-7d1b-4c1e-9a52-0b7d5e6f1a2b","since_s":723.5,"not_before":"2026-12-01T08:30:00+01:00"}');
INSERT INTO events VALUES ('am00000000',2,30.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('am00000000',3,130.0,'ended',0,'',0,0,1,10,13,'completed');
INSERT INTO events VALUES ('am00000000',4,140.0,'felt',0,'',0,0,0,0,0,'{"symptoms":"no stronger"}');
INSERT INTO events VALUES ('am00000000',1000000000000,0.0,'note',0,'',0,0,0,0,0,'{"text":"on the box"}');
INSERT INTO events VALUES ('am00000001',0,0.0,'started',0,'',0,0,0,0,0,'');
INSERT INTO events VALUES ('am00000001',1,0.0,'undated',0,'',0,0,0,0,0,'{"n":2,"id":"3f2a91c0-7d1b-4c1e-9a52-0b7d5e6f1a2b","since_s":1723.5,"not_before":"2026-12-01T08:30:00+01:00"}');
INSERT INTO events VALUES ('am00000001',2,30.0,'repetition',1,'right',1,1,0,1,4,'');
INSERT INTO events VALUES ('am00000001',3,130.0,'ended',0,'',0,0,1,10,13,'completed');
INSERT INTO events VALUES ('am00000001',4,140.0,'felt',0,'',0,0,0,0,0,'{"symptoms":"stronger"}');
INSERT INTO events VALUES ('d9gthhmm9k',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1}}');
INSERT INTO events VALUES ('d9gthhmm9k',1,0.0,'rating',0,'',0,0,0,0,0,'{"when":"before","tingling":1}');
INSERT INTO events VALUES ('d9gthhmm9k',2,0.0,'entered',0,'',0,0,0,0,0,'{"n":2}');
INSERT INTO events VALUES ('d9gthhmm9k',3,0.0,'ended',0,'',0,0,0,8,0,'ended-early');
INSERT INTO events VALUES ('d9gthhmm9k',4,0.0,'rating',0,'',0,0,0,0,0,'{"when":"after","tingling":2,"pain":1}');
INSERT INTO events VALUES ('d9gthhmm9k',5,0.0,'note',0,'',0,0,0,0,0,'{"text":"from the sheet"}');
INSERT INTO events VALUES ('vd63h88ynq',0,0.0,'started',0,'',0,0,0,0,0,'{"level":{"reps":10,"rate":1}}');
INSERT INTO events VALUES ('vd63h88ynq',1,0.0,'entered',0,'',0,0,0,0,0,'{"n":1}');
INSERT INTO events VALUES ('vd63h88ynq',2,0.0,'ended',0,'',0,0,1,10,11,'completed');
