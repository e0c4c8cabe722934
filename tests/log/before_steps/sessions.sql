BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
INSERT INTO "_sqlite_migrations" VALUES(1,'session log','append_only_events','2026-11-28 06:34:41.599214+00:00');
INSERT INTO "_sqlite_migrations" VALUES(2,'session log','summaries','2026-11-28 06:34:41.614204+00:00');
INSERT INTO "_sqlite_migrations" VALUES(3,'session log','purges','2026-11-28 06:34:41.622714+00:00');
CREATE TABLE "event" (
   "id" TEXT PRIMARY KEY,
   "session" TEXT NOT NULL,
   "seq" INTEGER NOT NULL,
   "at" TEXT NOT NULL,
   "offset_ms" INTEGER NOT NULL,
   "kind" TEXT NOT NULL,
   "version" INTEGER NOT NULL,
   "body" TEXT NOT NULL
) STRICT;
INSERT INTO "event" VALUES('01M8GDSXK20G4WB00GAAV6NZYM','01M8GDSXK20G4WB00GAAV6NZYK',1,'2026-09-14T09:10:00+00:00',0,'session opened',1,'{"class_group": "4-Hazel", "plan": {"name": "garden lesson", "phases": [{"name": "arrival", "minutes": 3.0, "routines": ["walk in quietly"], "advance": ["phrase", "clock"]}, {"name": "work time", "minutes": 20.0, "routines": ["share the tools", "stay at the bed"]}, {"name": "cleanup", "minutes": 7.0, "routines": ["tools back"]}]}, "levels": [{"name": "Full bloom", "least_margin": 5}, {"name": "In bud", "least_margin": 2}, {"name": "Sprouting", "least_margin": 0}], "tables": ["one", "two"], "room": "Garden and kitchen room", "engine": "enrolled", "carry_over": "Try the quiet line again."}');
INSERT INTO "event" VALUES('01M8GDSXKJVA0P68RP8XP361V1','01M8GDSXK20G4WB00GAAV6NZYK',2,'2026-09-14T09:10:00+00:00',0,'phase began',1,'{"phase": "arrival", "at_ms": 0, "source": "clock"}');
INSERT INTO "event" VALUES('01M8GDSXKYEGPTHGWSHM5CJ4VR','01M8GDSXK20G4WB00GAAV6NZYK',3,'2026-09-14T09:10:20+00:00',20000,'carry-over said',1,'{}');
INSERT INTO "event" VALUES('01M8GDSXMAX3EXEX2VVVKKAPK1','01M8GDSXK20G4WB00GAAV6NZYK',4,'2026-09-14T09:10:40+00:00',40000,'mark made',1,'{"kind": "praise", "at_ms": 38000, "source": "voice", "phrase": "praise", "confidence": 0.97, "engine": "enrolled", "reasons": ["the sounds fit well"]}');
INSERT INTO "event" VALUES('01M8GDSXMQ294HK1VPE68RWY3J','01M8GDSXK20G4WB00GAAV6NZYK',5,'2026-09-14T09:10:41+00:00',41000,'mark doubled',1,'{"mark": "m4", "at_ms": 39000, "source": "key"}');
INSERT INTO "event" VALUES('01M8GDSXN72TTBMR3PP3500RZ9','01M8GDSXK20G4WB00GAAV6NZYK',6,'2026-09-14T09:11:10+00:00',70000,'mark made',1,'{"kind": "reminder", "at_ms": 68000, "source": "voice", "scope": "table one", "routine": "walk in quietly", "phrase": "table one reminder", "confidence": 0.55, "engine": "vosk"}');
INSERT INTO "event" VALUES('01M8GDSXNJ9STPXJ5X8D7HC0BX','01M8GDSXK20G4WB00GAAV6NZYK',7,'2026-09-14T09:11:35+00:00',95000,'phase began',1,'{"phase": "work time", "at_ms": 90000, "source": "voice"}');
INSERT INTO "event" VALUES('01M8GDSXP6W6ZFMSRXCBJYQKFW','01M8GDSXK20G4WB00GAAV6NZYK',8,'2026-09-14T09:11:36+00:00',96000,'mark made',1,'{"kind": "praise", "at_ms": 95000, "source": "page"}');
INSERT INTO "event" VALUES('01M8GDSXPPQQ6ZNMHKXWZGEY1C','01M8GDSXK20G4WB00GAAV6NZYK',9,'2026-09-14T09:11:37+00:00',97000,'mark made',1,'{"kind": "praise", "at_ms": 96000, "source": "key", "scope": "part of the class"}');
INSERT INTO "event" VALUES('01M8GDSXQAQSEX5MH3RN78K53Z','01M8GDSXK20G4WB00GAAV6NZYK',10,'2026-09-14T09:11:38+00:00',98000,'undo asked',1,'{"at_ms": 98000, "source": "key"}');
INSERT INTO "event" VALUES('01M8GDSXQYQ8H95V86FQD3M2BY','01M8GDSXK20G4WB00GAAV6NZYK',11,'2026-09-14T09:12:10+00:00',130000,'near miss heard',1,'{"phrase": "praise", "at_ms": 120000, "confidence": 0.41, "command": {"action": "praise"}, "engine": "enrolled", "reasons": ["no command was clear after the cue"]}');
INSERT INTO "event" VALUES('01M8GDSXRE3E1YF4F7WM75ESWC','01M8GDSXK20G4WB00GAAV6NZYK',12,'2026-09-14T09:12:20+00:00',140000,'near miss heard',1,'{"phrase": "table two reminder", "at_ms": 132000, "confidence": 0.3, "command": {"action": "reminder", "scope": "table two"}, "engine": "vosk"}');
INSERT INTO "event" VALUES('01M8GDSXRVTB9FTP427BB75ZJD','01M8GDSXK20G4WB00GAAV6NZYK',13,'2026-09-14T09:12:30+00:00',150000,'near miss heard',1,'{"phrase": "take it back", "at_ms": 149000, "confidence": 0.2, "command": {"action": "undo"}}');
INSERT INTO "event" VALUES('01M8GDSXSJYG5MQM0KE0Y0DHTK','01M8GDSXK20G4WB00GAAV6NZYK',14,'2026-09-14T09:12:31+00:00',151000,'near miss heard',1,'{"phrase": "next phase", "at_ms": 150000, "confidence": 0.2, "command": {"action": "next phase"}}');
INSERT INTO "event" VALUES('01M8GDSXT2TYD4K8DQZPM4AA05','01M8GDSXK20G4WB00GAAV6NZYK',15,'2026-09-14T09:13:20+00:00',200000,'note opened',1,'{"kind": "health office", "at_ms": 200000, "source": "voice"}');
INSERT INTO "event" VALUES('01M8GDSXTFARE7RH5BGJ9EN2KG','01M8GDSXK20G4WB00GAAV6NZYK',16,'2026-09-14T09:13:30+00:00',210000,'note opened',1,'{"kind": "other", "at_ms": 209000, "source": "key"}');
INSERT INTO "event" VALUES('01M8GDSXV2A0A4XPVM0D6NQ25J','01M8GDSXK20G4WB00GAAV6NZYK',17,'2026-09-14T09:15:00+00:00',300000,'listening paused',1,'{"at_ms": 300000, "source": "page"}');
INSERT INTO "event" VALUES('01M8GDSXVJ1ZYVJPHB3XPP4M6X','01M8GDSXK20G4WB00GAAV6NZYK',18,'2026-09-14T09:15:30+00:00',330000,'listening resumed',1,'{"at_ms": 330000, "source": "key"}');
INSERT INTO "event" VALUES('01M8GDSXW4YP80W014MK0RRR3T','01M8GDSXK20G4WB00GAAV6NZYK',19,'2026-09-14T09:16:40+00:00',400000,'hearing lost',1,'{"at_ms": 395000, "reason": "microphone unplugged"}');
INSERT INTO "event" VALUES('01M8GDSXWKKSNM7S0TFK6G72V0','01M8GDSXK20G4WB00GAAV6NZYK',20,'2026-09-14T09:17:00+00:00',420000,'hearing regained',1,'{"at_ms": 419000}');
INSERT INTO "event" VALUES('01M8GDSXWZHSP417N167HYJW1V','01M8GDSXK20G4WB00GAAV6NZYK',21,'2026-09-14T09:18:20+00:00',500000,'hearing lost',1,'{"at_ms": 499000, "reason": "muted"}');
INSERT INTO "event" VALUES('01M8GDSXXQ0FDNBGX57B4YB2PE','01M8GDSXK20G4WB00GAAV6NZYK',22,'2026-09-14T09:21:40+00:00',700000,'companion restarted',1,'{"last_ms": 520000, "at_ms": 700000}');
INSERT INTO "event" VALUES('01M8GDSXY71F85VDZK1VV461D3','01M8GDSXK20G4WB00GAAV6NZYK',23,'2026-09-14T09:23:20+00:00',800000,'phase began',1,'{"phase": "arrival", "at_ms": 800000, "source": "command line"}');
INSERT INTO "event" VALUES('01M8GDSXYP8QM86YREE7Q1K2XZ','01M8GDSXK20G4WB00GAAV6NZYK',24,'2026-09-14T09:23:25+00:00',805000,'mark made',1,'{"kind": "praise", "at_ms": 804000, "source": "command line", "scope": "table two"}');
INSERT INTO "event" VALUES('01M8GDSXZ25RKJ24X6ZV10PMCS','01M8GDSXK20G4WB00GAAV6NZYK',25,'2026-09-14T09:25:00+00:00',900000,'phase began',1,'{"phase": "cleanup", "at_ms": 899000, "source": "key"}');
INSERT INTO "event" VALUES('01M8GDSXZJ2DCNZ2SS4ZPRKXD7','01M8GDSXK20G4WB00GAAV6NZYK',26,'2026-09-14T09:25:10+00:00',910000,'mark made',1,'{"kind": "praise", "at_ms": 909000, "source": "voice", "routine": "tools back", "phrase": "praise", "confidence": 0.9, "engine": "enrolled"}');
INSERT INTO "event" VALUES('01M8GDSXZZ2QJ4VCHEZQGDECF2','01M8GDSXK20G4WB00GAAV6NZYK',27,'2026-09-14T09:26:40+00:00',1000000,'listening paused',1,'{"at_ms": 1000000, "source": "voice"}');
INSERT INTO "event" VALUES('01M8GDSY0ESNSS8299TDYY6F91','01M8GDSXK20G4WB00GAAV6NZYK',28,'2026-09-14T09:28:20+00:00',1100000,'hearing lost',1,'{"at_ms": 1099000, "reason": "no signal"}');
INSERT INTO "event" VALUES('01M8GDSY121X078732W8WAY09N','01M8GDSXK20G4WB00GAAV6NZYK',29,'2026-09-14T09:30:00+00:00',1200000,'session closed',1,'{"at_ms": 1200000, "source": "key"}');
INSERT INTO "event" VALUES('01M8GDSY1J029JXECQDC2ZS3VS','01M8GDSXK20G4WB00GAAV6NZYK',30,'2026-09-14T09:30:01+00:00',1201000,'mark made',1,'{"kind": "reminder", "at_ms": 1195000, "source": "voice", "phrase": "reminder", "confidence": 0.7, "engine": "vosk"}');
INSERT INTO "event" VALUES('01M8GDSY1Z5MQHFNGJ2F3DZ0PF','01M8GDSXK20G4WB00GAAV6NZYK',31,'2026-09-14T09:31:40+00:00',1300000,'mark kept',1,'{"mark": "m4"}');
INSERT INTO "event" VALUES('01M8GDSY2JRR5SNBR1Y5M0Q517','01M8GDSXK20G4WB00GAAV6NZYK',32,'2026-09-14T09:31:50+00:00',1310000,'mark changed',1,'{"mark": "m6", "kind": "praise", "phase": "work time", "scope": "class", "routine": "stay at the bed"}');
INSERT INTO "event" VALUES('01M8GDSY2ZJE5HBQVTACWVF20W','01M8GDSXK20G4WB00GAAV6NZYK',33,'2026-09-14T09:32:00+00:00',1320000,'mark dropped',1,'{"mark": "m8", "reason": "it was a child"}');
INSERT INTO "event" VALUES('01M8GDSY3FW71NF2BEDDKT43JC','01M8GDSXK20G4WB00GAAV6NZYK',34,'2026-09-14T09:32:10+00:00',1330000,'mark restored',1,'{"mark": "m9"}');
INSERT INTO "event" VALUES('01M8GDSY3VPW6Q0QP5DV7C2FAA','01M8GDSXK20G4WB00GAAV6NZYK',35,'2026-09-14T09:32:20+00:00',1340000,'mark added',1,'{"kind": "reminder", "phase": "arrival"}');
INSERT INTO "event" VALUES('01M8GDSY4BZMS29P7KS39TMDB2','01M8GDSXK20G4WB00GAAV6NZYK',36,'2026-09-14T09:32:30+00:00',1350000,'mark added',1,'{"kind": "praise", "phase": "arrival", "at_ms": 850000, "scope": "part of the class", "routine": "walk in quietly"}');
INSERT INTO "event" VALUES('01M8GDSY5200P5WPQRPMQS53F8','01M8GDSXK20G4WB00GAAV6NZYK',37,'2026-09-14T09:32:40+00:00',1360000,'near miss confirmed',1,'{"near_miss": "c11", "kind": "praise", "phase": "arrival"}');
INSERT INTO "event" VALUES('01M8GDSY5JRMVEC01FHFQ8T8N3','01M8GDSXK20G4WB00GAAV6NZYK',38,'2026-09-14T09:32:50+00:00',1370000,'near miss dismissed',1,'{"near_miss": "c12"}');
INSERT INTO "event" VALUES('01M8GDSY5ZNQZG30355S6WRPNT','01M8GDSXK20G4WB00GAAV6NZYK',39,'2026-09-14T09:33:00+00:00',1380000,'mark kept',1,'{"mark": "m24"}');
INSERT INTO "event" VALUES('01M8GDSY5ZNQZG30355S6WRPNV','01M8GDSXK20G4WB00GAAV6NZYK',40,'2026-09-14T09:33:00+00:00',1380000,'mark kept',1,'{"mark": "m26"}');
INSERT INTO "event" VALUES('01M8GDSY5ZNQZG30355S6WRPNW','01M8GDSXK20G4WB00GAAV6NZYK',41,'2026-09-14T09:33:00+00:00',1380000,'mark kept',1,'{"mark": "m30"}');
INSERT INTO "event" VALUES('01M8GDSY6PF2ANNWMAJHAZNA2W','01M8GDSXK20G4WB00GAAV6NZYK',42,'2026-09-14T09:33:10+00:00',1390000,'event taken back',1,'{"taken_back": 41}');
INSERT INTO "event" VALUES('01M8GDSY77435HB71TDSA2YGAG','01M8GDSXK20G4WB00GAAV6NZYK',43,'2026-09-14T09:33:15+00:00',1395000,'mark dropped',1,'{"mark": "m26"}');
INSERT INTO "event" VALUES('01M8GDSY7YBCY9NZ2GA5FKDSFH','01M8GDSXK20G4WB00GAAV6NZYK',44,'2026-09-14T09:33:16+00:00',1396000,'event taken back',1,'{"taken_back": 43}');
INSERT INTO "event" VALUES('01M8GDSY8M84HYDYMHQS3VHTAT','01M8GDSXK20G4WB00GAAV6NZYK',45,'2026-09-14T09:33:20+00:00',1400000,'note completed',1,'{"note": "n15", "child": "seat 12", "kind": "health office", "line": "a splinter", "contact": {"by": "the class''s own teacher", "how": "phone", "when": "tomorrow"}}');
INSERT INTO "event" VALUES('01M8GDSY9AMN30JS7G0JH8GZMZ','01M8GDSXK20G4WB00GAAV6NZYK',46,'2026-09-14T09:33:30+00:00',1410000,'note dropped',1,'{"note": "n16"}');
INSERT INTO "event" VALUES('01M8GDSY9V9SB32YWV18R2WQ0J','01M8GDSXK20G4WB00GAAV6NZYK',47,'2026-09-14T09:33:40+00:00',1420000,'self rated',1,'{"rating": "went well", "hands": [12, 5, 1]}');
INSERT INTO "event" VALUES('01M8GDSYA6YC1W0M04VWQC846S','01M8GDSXK20G4WB00GAAV6NZYK',48,'2026-09-14T09:33:50+00:00',1430000,'teacher viewed',1,'{"text": "A good start."}');
INSERT INTO "event" VALUES('01M8GDSYAQXCZDCQEJRQTYZ2QR','01M8GDSXK20G4WB00GAAV6NZYK',49,'2026-09-14T09:34:00+00:00',1440000,'carry-over written',1,'{"text": "Practise the quiet line."}');
INSERT INTO "event" VALUES('01M8GDSYB35WQE18J5MVPKVGFN','01M8GDSXK20G4WB00GAAV6NZYK',50,'2026-09-14T09:34:10+00:00',1450000,'recognition overruled',1,'{"level": "Full bloom", "reason": "They helped a new child."}');
INSERT INTO "event" VALUES('01M8GDSYBT1R10AWSGQWW05KVQ','01M8GDSXK20G4WB00GAAV6NZYK',51,'2026-09-14T09:34:20+00:00',1460000,'session settled',1,'{}');
INSERT INTO "event" VALUES('01M8GDSYC7PQ4W6V98SNYSTKJB','01M8GDSXK20G4WB00GAAV6NZYK',52,'2026-09-14T09:35:00+00:00',1500000,'session reopened',1,'{"reason": "a mark was missing"}');
INSERT INTO "event" VALUES('01M8GDSYCTH96K76TY4V4YXK9Q','01M8GDSXK20G4WB00GAAV6NZYK',53,'2026-09-14T09:35:10+00:00',1510000,'recognition overruled',1,'{"level": null, "reason": "it was a hard day"}');
INSERT INTO "event" VALUES('01M8GDSYD6H5VNGC5ZJ0QB4FEE','01M8GDSXK20G4WB00GAAV6NZYK',54,'2026-09-14T09:35:20+00:00',1520000,'session settled',1,'{}');
INSERT INTO "event" VALUES('01M8GDSYDZYZGV33F2J5FB9YA2','01M8GDSYDY12GGPCP21VEFN38W',1,'2026-09-14T10:10:00+00:00',0,'session opened',1,'{"class_group": "unplanned", "plan": {"name": "garden lesson", "phases": [{"name": "arrival", "minutes": 3.0, "routines": ["walk in quietly"], "advance": ["phrase", "clock"]}, {"name": "work time", "minutes": 20.0, "routines": ["share the tools", "stay at the bed"]}, {"name": "cleanup", "minutes": 7.0, "routines": ["tools back"]}]}, "levels": [{"name": "Full bloom", "least_margin": 5}, {"name": "In bud", "least_margin": 2}, {"name": "Sprouting", "least_margin": 0}], "tables": ["one", "two"], "room": "Garden and kitchen room"}');
INSERT INTO "event" VALUES('01M8GDSYE6SBDWVFHZY94EKQNA','01M8GDSYDY12GGPCP21VEFN38W',2,'2026-09-14T10:10:00+00:00',0,'phase began',1,'{"phase": "arrival", "at_ms": 0, "source": "clock"}');
INSERT INTO "event" VALUES('01M8GDSYEJ35G24WEW9YT2X3K6','01M8GDSYDY12GGPCP21VEFN38W',3,'2026-09-14T10:10:30+00:00',30000,'undo asked',1,'{"at_ms": 30000, "source": "voice"}');
INSERT INTO "event" VALUES('01M8GDSYEYH43BEV35AZMFWQDV','01M8GDSYDY12GGPCP21VEFN38W',4,'2026-09-14T10:11:00+00:00',60000,'class group named',1,'{"class_group": "2-Birch", "plan": {"name": "kitchen lesson", "phases": [{"name": "arrival", "minutes": 3.0}, {"name": "cooking", "minutes": 25.0, "routines": ["hands washed"]}, {"name": "cleanup", "minutes": 7.0, "routines": ["tools back"]}]}, "carry_over": "Say hello to the hens."}');
INSERT INTO "event" VALUES('01M8GDSYEYH43BEV35AZMFWQDW','01M8GDSYDY12GGPCP21VEFN38W',5,'2026-09-14T10:11:00+00:00',60000,'phase began',1,'{"phase": "cooking", "at_ms": 60000, "source": "page"}');
INSERT INTO "event" VALUES('01M8GDSYFA17VY5M8Z8A917EYT','01M8GDSYDY12GGPCP21VEFN38W',6,'2026-09-14T10:11:01+00:00',61000,'mark made',1,'{"kind": "praise", "at_ms": 59000, "source": "key"}');
INSERT INTO "event" VALUES('01M8GDSYFJ70RXKVYT7D8E340P','01M8GDSYDY12GGPCP21VEFN38W',7,'2026-09-14T10:11:30+00:00',90000,'class group named',1,'{"class_group": "2-Willow"}');
INSERT INTO "event" VALUES('01M8GDSYFT967TVAKEZWP9137J','01M8GDSYDY12GGPCP21VEFN38W',8,'2026-09-14T10:11:35+00:00',95000,'mark made',1,'{"kind": "reminder", "at_ms": 94000, "source": "key", "routine": "hands washed"}');
INSERT INTO "event" VALUES('01M8GDSYGA1C4DPT246TBG0EME','01M8GDSYDY12GGPCP21VEFN38W',9,'2026-09-14T10:13:20+00:00',200000,'session closed',1,'{"at_ms": 200000, "source": "clock"}');
INSERT INTO "event" VALUES('01M8GDSYGJ53GN9Z8SBAHH233F','01M8GDSYGJ53GN9Z8SBAHH233E',1,'2026-09-14T11:10:00+00:00',0,'session opened',1,'{"class_group": "5-Rowan", "plan": {"name": "garden lesson", "phases": [{"name": "arrival", "minutes": 3.0, "routines": ["walk in quietly"], "advance": ["phrase", "clock"]}, {"name": "work time", "minutes": 20.0, "routines": ["share the tools", "stay at the bed"]}, {"name": "cleanup", "minutes": 7.0, "routines": ["tools back"]}]}, "levels": [{"name": "Full bloom", "least_margin": 5}, {"name": "In bud", "least_margin": 2}, {"name": "Sprouting", "least_margin": 0}], "tables": ["one", "two"], "room": "Garden and kitchen room", "engine": "enrolled"}');
INSERT INTO "event" VALUES('01M8GDSYGY271B76CX3EQ20MMM','01M8GDSYGJ53GN9Z8SBAHH233E',2,'2026-09-14T11:10:00+00:00',0,'phase began',1,'{"phase": "work time", "at_ms": 0, "source": "clock"}');
INSERT INTO "event" VALUES('01M8GDSYHEJ67NNXRZWXPPKAVV','01M8GDSYGJ53GN9Z8SBAHH233E',3,'2026-09-14T11:10:10+00:00',10000,'mark made',1,'{"kind": "praise", "at_ms": 9000, "source": "voice", "phrase": "praise", "confidence": 0.92, "engine": "enrolled"}');
INSERT INTO "event" VALUES('01M8GDSYHP0RAX427DWPP21KFR','01M8GDSYGJ53GN9Z8SBAHH233E',4,'2026-09-14T11:10:20+00:00',20000,'listening paused',1,'{"at_ms": 20000, "source": "key"}');
CREATE TABLE "purge" (
   "id" TEXT PRIMARY KEY,
   "at" TEXT,
   "sessions" INTEGER
) STRICT;
CREATE TABLE "summary" (
   "session" TEXT PRIMARY KEY,
   "class_group" TEXT,
   "opened_at" TEXT,
   "plan" TEXT,
   "room" TEXT,
   "praise" INTEGER,
   "reminder" INTEGER,
   "margin" INTEGER,
   "recognition" TEXT,
   "unreviewed" INTEGER,
   "closed" INTEGER,
   "settled" INTEGER,
   "carry_over" TEXT
) STRICT;
INSERT INTO "summary" VALUES('01M8GDSXK20G4WB00GAAV6NZYK','4-Hazel','2026-09-14T09:10:00+00:00','garden lesson','Garden and kitchen room',7,2,5,NULL,1,1,1,'Practise the quiet line.');
INSERT INTO "summary" VALUES('01M8GDSYDY12GGPCP21VEFN38W','2-Willow','2026-09-14T10:10:00+00:00','kitchen lesson','Garden and kitchen room',1,1,0,'Sprouting',2,1,0,'');
INSERT INTO "summary" VALUES('01M8GDSYGJ53GN9Z8SBAHH233E','5-Rowan','2026-09-14T11:10:00+00:00','garden lesson','Garden and kitchen room',1,0,1,'Sprouting',1,0,0,'');
CREATE TABLE "tally" (
   "session" TEXT,
   "phase" TEXT,
   "routine" TEXT,
   "praise" INTEGER,
   "reminder" INTEGER,
   PRIMARY KEY ("session", "phase", "routine")
) STRICT;
INSERT INTO "tally" VALUES('01M8GDSXK20G4WB00GAAV6NZYK','arrival','',3,1);
INSERT INTO "tally" VALUES('01M8GDSXK20G4WB00GAAV6NZYK','work time','stay at the bed',1,0);
INSERT INTO "tally" VALUES('01M8GDSXK20G4WB00GAAV6NZYK','work time','',1,0);
INSERT INTO "tally" VALUES('01M8GDSXK20G4WB00GAAV6NZYK','arrival','walk in quietly',1,0);
INSERT INTO "tally" VALUES('01M8GDSXK20G4WB00GAAV6NZYK','cleanup','tools back',1,0);
INSERT INTO "tally" VALUES('01M8GDSXK20G4WB00GAAV6NZYK','cleanup','',0,1);
INSERT INTO "tally" VALUES('01M8GDSYDY12GGPCP21VEFN38W','arrival','',1,0);
INSERT INTO "tally" VALUES('01M8GDSYDY12GGPCP21VEFN38W','cooking','hands washed',0,1);
INSERT INTO "tally" VALUES('01M8GDSYGJ53GN9Z8SBAHH233E','work time','',1,0);
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE UNIQUE INDEX "idx_event_session_seq"
    ON "event" ("session", "seq");
CREATE TRIGGER event_no_update BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'the session log is append-only'); END;
CREATE TRIGGER event_no_delete BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'the session log is append-only'); END;
CREATE INDEX "idx_summary_class_group_opened_at"
    ON "summary" ("class_group", "opened_at");
CREATE INDEX "idx_summary_opened_at"
    ON "summary" ("opened_at");
COMMIT;
