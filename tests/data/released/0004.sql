BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0004');
CREATE TABLE event (
	run INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	kind TEXT NOT NULL, 
	version INTEGER NOT NULL, 
	body TEXT NOT NULL, 
	at_s INTEGER NOT NULL, 
	logged_s INTEGER NOT NULL, 
	logged_at TEXT NOT NULL, 
	"by" TEXT NOT NULL, 
	station TEXT NOT NULL, 
	"key" TEXT NOT NULL, 
	chain TEXT NOT NULL, 
	CONSTRAINT pk_event PRIMARY KEY (run, seq), 
	CONSTRAINT fk_event_run FOREIGN KEY(run) REFERENCES run (run), 
	CONSTRAINT fk_event_run_key FOREIGN KEY(run, "key") REFERENCES receipt (run, "key")
)
 WITHOUT ROWID,
 STRICT

;
INSERT INTO "event" VALUES(1,1,'RunStarted',1,'{"kind":"rehearsal","revision":"36f393e468fefea5a2645c2954cbab94f6762fb7046c80f53fff4de4730ec6bc","zero_utc":"2031-05-04T07:00:00.000Z"}',0,0,'2031-05-04T07:00:00.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000001','6d75bc5052225ae5a45d1b27d8352f6eb08b1c9b16c798eac601992994442d5b');
INSERT INTO "event" VALUES(1,2,'ToolMoved',1,'{"how":"taken","person":"EV2","reason":"","tool":"torque driver","where":""}',10,10,'2031-05-04T07:00:10.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000002','19b2b2fa464921bb6ac21c3da674e8380186440045fb453028dcd95f0c25a286');
INSERT INTO "event" VALUES(1,3,'ToolMoved',1,'{"how":"taken","person":"EV1","reason":"","tool":"line wrench","where":""}',20,20,'2031-05-04T07:00:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000003','749015cd0a5d3967d4f0b5663048175862908392f45c39c0bb379096e2b8ae66');
INSERT INTO "event" VALUES(1,4,'ToolMoved',1,'{"how":"taken","person":"EV2","reason":"","tool":"leak sniffer","where":""}',30,30,'2031-05-04T07:00:30.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000004','72a01b75d95ca2fc26822fddbbb3f5576f6b0ad875a2a68767177fbd8ce42f79');
INSERT INTO "event" VALUES(1,5,'ToolMoved',1,'{"how":"taken","person":"EV1","reason":"","tool":"camera","where":""}',40,40,'2031-05-04T07:00:40.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000005','abc429959067654608dc6eebf4197e7b54b94d5bdfd5508780837143114a3ca1');
INSERT INTO "event" VALUES(1,6,'WarningAcknowledged',1,'{"heard":true,"person":"EV1","step":"go-out/1"}',70,70,'2031-05-04T07:01:10.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000006','7efb766464939801fc541d82428c837d97b4a106a7f8dd3afcf5cb3ac51c1253');
INSERT INTO "event" VALUES(1,7,'WarningAcknowledged',1,'{"heard":true,"person":"EV2","step":"go-out/1"}',80,80,'2031-05-04T07:01:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000007','02bc442ebcb4674845f63920360bb085d9434f5e2aa224eed0d8e20338ee387d');
INSERT INTO "event" VALUES(1,8,'ReadingTaken',1,'{"anew":false,"heard":true,"person":"EV1","supply":"battery","value":100.0}',310,310,'2031-05-04T07:05:10.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000008','d96990e8f1ca01477a40434a10962ebf9fa3f82e44b75955519a4dde58f98a17');
INSERT INTO "event" VALUES(1,9,'ReadingTaken',1,'{"anew":false,"heard":true,"person":"EV2","supply":"battery","value":100.0}',320,320,'2031-05-04T07:05:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000009','5cba4c372811047047804664216a9233d42d4b25108fe4ef901d289559b08049');
INSERT INTO "event" VALUES(1,10,'StepMarked',1,'{"ordered_because":null,"step":"go-out/1","values":[]}',620,620,'2031-05-04T07:10:20.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000000a','ae4d9db1e343e63a554692ba3bc034ccf893e4f0b921259886a8f03ca60a3e3a');
INSERT INTO "event" VALUES(1,11,'StepMarked',1,'{"ordered_because":null,"step":"go-out/2","values":[]}',1270,1270,'2031-05-04T07:21:10.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000000b','1e80d520650baa9f37c0ad241be3a3aa24693930ba78087dce8a040da1540349');
INSERT INTO "event" VALUES(1,12,'StepMarked',1,'{"ordered_because":null,"step":"unplug/1","values":[]}',1680,1680,'2031-05-04T07:28:00.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000000c','a35c60d03b1a7e3bbfb189f2f249b9d2b12ca8c9716a92a4c1c3ae607b022de5');
INSERT INTO "event" VALUES(1,13,'ToolMoved',1,'{"how":"handed","person":"EV2","reason":"","tool":"camera","where":""}',1730,1730,'2031-05-04T07:28:50.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000000d','b1280b3ee8a2e7b143b9ffafd17c207fda3494f8499a4065917addefd17e5a48');
INSERT INTO "event" VALUES(1,14,'StepMarked',1,'{"ordered_because":null,"step":"shut-valves/1","values":[]}',1810,1810,'2031-05-04T07:30:10.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000000e','86f8467045bb8bcbd82c48d58dcdaf2f623ac36d90b4c051b3283e71d207b9d5');
INSERT INTO "event" VALUES(1,15,'StepMarked',1,'{"ordered_because":null,"step":"unplug/2","values":[]}',2010,2010,'2031-05-04T07:33:30.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000000f','390628e0afb53e90ae8d55e81b3ba364b770bcd0f3a20e5144af593c7b893e4e');
INSERT INTO "event" VALUES(1,16,'StepMarked',1,'{"ordered_because":null,"step":"shut-valves/2","values":[["turns",12.0]]}',2080,2080,'2031-05-04T07:34:40.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000010','8ad60aad755617718ac2d198cd9b0dfbfc36c6f09d23c3e7299e3659de6abcec');
INSERT INTO "event" VALUES(1,17,'StepMarked',1,'{"ordered_because":null,"step":"unplug/3","values":[]}',2330,2330,'2031-05-04T07:38:50.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000011','74cda50a00ceb31def0365c1d9c970ead4083e2b2afc288cb328b8f352c60934');
INSERT INTO "event" VALUES(1,18,'CompletionCalled',1,'{"ordered_because":null,"step":"shut-valves/3","values":[["turns",13.5]]}',2350,2350,'2031-05-04T07:39:10.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000012','2a4473c4def4e9b81131267a8d066cd0098590d927575a61e9ddeb44a0a39b5f');
INSERT INTO "event" VALUES(1,19,'ValuesAccepted',1,'{"reason":"V2 has gone half a turn over before; it feels shut","step":"shut-valves/3"}',2370,2370,'2031-05-04T07:39:30.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000013','54389b3086e0b5a4c8f2b3c99f2ec9a1e3b71c8eccc4e22aba41fbb612010eb4');
INSERT INTO "event" VALUES(1,20,'StepMarked',1,'{"ordered_because":null,"step":"shut-valves/3","values":[["turns",13.5]]}',2370,2370,'2031-05-04T07:39:30.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000013','e6658c6a9110ca9c30b3a128dc4f60087e9334a6ca0f4a501878d341c43478a9');
INSERT INTO "event" VALUES(1,21,'NoteAdded',1,'{"person":null,"step":"shut-valves/3","text":"V2 took 13.5 turns, half a turn over; it feels shut. Ground concurs."}',2400,2400,'2031-05-04T07:40:00.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000014','cdac883c017675624cff029a3f57fbd113ca894e27fe860190ea5985a5d33784');
INSERT INTO "event" VALUES(1,22,'StepMarked',1,'{"ordered_because":null,"step":"isolate/1","values":[]}',2760,2760,'2031-05-04T07:46:00.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000015','11f7fcbfa4f6e6504765769281e5a8703dc9ddabfa8ee8d08b2f2921043bfcf9');
INSERT INTO "event" VALUES(1,23,'StepReopened',1,'{"asks_again":[],"reason":"undone","step":"isolate/1","undone":true}',2780,2780,'2031-05-04T07:46:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000016','0eaa64ff06d8b08ef2e7295617954238f9a0ac8991c5525289955989ce6c58ee');
INSERT INTO "event" VALUES(1,24,'StepMarked',1,'{"ordered_because":null,"step":"isolate/1","values":[]}',2860,2910,'2031-05-04T07:48:30.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000017','30c3f7990777b0f50e77046bfae74eae5f5fa0c271bcbf6fe434592c8755ac26');
INSERT INTO "event" VALUES(1,25,'StepMarked',1,'{"ordered_because":null,"step":"isolate/2","values":[]}',2950,2950,'2031-05-04T07:49:10.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000018','759041a370b5969e3d729a0e1e77e931a1fd4420d2d1b5c613b09b75c3a92ece');
INSERT INTO "event" VALUES(1,26,'RoundAnswered',1,'{"answer":"","good":true,"heard":true,"person":"EV1","round":"gloves-and-suit"}',2970,3020,'2031-05-04T07:50:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000019','dd31dee4e9f20cbc1971fb592ebf1a1d6be6f4e1a74b9b75d00ae867890527a4');
INSERT INTO "event" VALUES(1,27,'ReadingTaken',1,'{"anew":false,"heard":true,"person":"EV1","supply":"battery","value":86.0}',2970,3020,'2031-05-04T07:50:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000019','4189652c8bf8c2dd66873952d1b4a123edb3e45d1c39d34fd364d70955c4c554');
INSERT INTO "event" VALUES(1,28,'StepMarked',1,'{"ordered_because":null,"step":"unplug/4","values":[]}',3450,3450,'2031-05-04T07:57:30.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000001a','cda45fba90405a3d51f06bff20a9e3a897860ba1eee67c03e5e94371fba602ad');
INSERT INTO "event" VALUES(1,29,'ActionsDone',1,'{"first":1,"last":1,"step":"free-old/1"}',3580,3580,'2031-05-04T07:59:40.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000001b','fab851ced14e9069b13457c88099c5614bc396b92691d8835b898e559c523348');
INSERT INTO "event" VALUES(1,30,'ActionsDone',1,'{"first":2,"last":2,"step":"free-old/1"}',3670,3670,'2031-05-04T08:01:10.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000001c','9655414de816b9a7eac916ed6f7929eeb0a7506eb6f99ad88c372e80697fc0bf');
INSERT INTO "event" VALUES(1,31,'ActionsDone',1,'{"first":3,"last":3,"step":"free-old/1"}',3750,3750,'2031-05-04T08:02:30.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000001d','4c1550c63613b1f27d7b1152938aa5f77d63049dc233c207d85cfc38a52852d2');
INSERT INTO "event" VALUES(1,32,'ActionsDone',1,'{"first":4,"last":4,"step":"free-old/1"}',3830,3830,'2031-05-04T08:03:50.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000001e','db59e8e6c6b6f554d7e9e8b6ea95a6f5fe83167574314936eda05aac5a2dc76d');
INSERT INTO "event" VALUES(1,33,'ActionsDone',1,'{"first":5,"last":5,"step":"free-old/1"}',3930,3930,'2031-05-04T08:05:30.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000001f','55f5715745713990cec08d40c5c5e65fc505519314a8bf09b0018efdc68d9280');
INSERT INTO "event" VALUES(1,34,'ActionsDone',1,'{"first":6,"last":6,"step":"free-old/1"}',4010,4010,'2031-05-04T08:06:50.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000020','7b7bcf7f0d2a59734911e0e4d413307192e2ca6f5d744aac24e4ec42721b9e15');
INSERT INTO "event" VALUES(1,35,'ActionsDone',1,'{"first":7,"last":7,"step":"free-old/1"}',4120,4120,'2031-05-04T08:08:40.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000021','6cd4bec19e6dab6f73b29a3098e4681725681c0eba18bdc19167a8ebc2f8bf61');
INSERT INTO "event" VALUES(1,36,'ActionsDone',1,'{"first":8,"last":8,"step":"free-old/1"}',4210,4210,'2031-05-04T08:10:10.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000022','899d56459338dae78bfbcd26b5c6984d657dc0e7edd30ca494ff914355c05403');
INSERT INTO "event" VALUES(1,37,'StepMarked',1,'{"ordered_because":null,"step":"free-old/1","values":[]}',4210,4210,'2031-05-04T08:10:10.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000022','a890f59fd2d2281278ed750998b0379fe394ece6e6c369ed0d9c0c8f556721ec');
INSERT INTO "event" VALUES(1,38,'RoundAnswered',1,'{"answer":"left glove scuffed, no cut","good":true,"heard":true,"person":"EV2","round":"gloves-and-suit"}',3740,4300,'2031-05-04T08:11:40.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000023','1610dc733671692d32e2a6e1d81b448a082111e02d83a6b1fa46325c1e067390');
INSERT INTO "event" VALUES(1,39,'ReadingTaken',1,'{"anew":false,"heard":true,"person":"EV2","supply":"battery","value":85.5}',3740,4300,'2031-05-04T08:11:40.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000023','ea50d4d5bb6756fd47a468137e17f766f6b62d6103f9832c6087f8dc8cec28f0');
INSERT INTO "event" VALUES(1,40,'ToolMoved',1,'{"how":"left","person":"EV2","reason":"","tool":"leak sniffer","where":"bay 4 right"}',4380,4380,'2031-05-04T08:13:00.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000024','3561a1eaf4f9936cb7aff81f6c1fad646b0c0383fc6031180e923b007279805c');
INSERT INTO "event" VALUES(1,41,'StepMarked',1,'{"ordered_because":null,"step":"free-old/2","values":[]}',4470,4470,'2031-05-04T08:14:30.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000025','da14e0e3c4e8c3d2e57c8218dbf4dab3ca3b8b3fefa0f505ab3e382ed41bb3e6');
INSERT INTO "event" VALUES(1,42,'StepMarked',1,'{"ordered_because":null,"step":"take-away/1","values":[]}',4810,4810,'2031-05-04T08:20:10.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000026','c52e0c008b413c28e76eaad1699aec7e6c798a0820c2b9b0214b7f4aa14aa3fb');
INSERT INTO "event" VALUES(1,43,'WorkTaken',1,'{"places":[["EV1","plug"]],"task":"wipe-window"}',4920,4920,'2031-05-04T08:22:00.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000027','238d0405d2731b6e5d5fee936bddf22660cca6c3113d7c8623e337971d7ee35d');
INSERT INTO "event" VALUES(1,44,'StartRecorded',1,'{"step":"wipe-window/1"}',4950,4950,'2031-05-04T08:22:30.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000028','bb2fea7cc82f93fb8fcaa3ac92a666d7cddb6bfb5a4dc89079731b53b2a71ff9');
INSERT INTO "event" VALUES(1,45,'StepMarked',1,'{"ordered_because":null,"step":"take-away/2","values":[]}',5460,5460,'2031-05-04T08:31:00.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000029','f72af7b21391f4d1b4f055d6dd4af9d554ca0d9208cb7b874d3a59512a6a0d6b');
INSERT INTO "event" VALUES(1,46,'ReadingTaken',1,'{"anew":false,"heard":true,"person":"EV1","supply":"battery","value":72.0}',5580,5580,'2031-05-04T08:33:00.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000002a','b221194bc5b5bca10a56fa367382e4039b7d6b3b6f44c22f183e7451c577db18');
INSERT INTO "event" VALUES(1,47,'ReadingTaken',1,'{"anew":false,"heard":true,"person":"EV2","supply":"battery","value":78.5}',5610,5610,'2031-05-04T08:33:30.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000002b','d2055310a0b55a496ed9f169602271c6bc1aa56487a44e8a2428136888f00b49');
INSERT INTO "event" VALUES(1,48,'StepMarked',1,'{"ordered_because":null,"step":"wipe-window/1","values":[]}',6010,6010,'2031-05-04T08:40:10.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000002c','754b38dbd07d94254598f993e55c8dcf57637d15fa9ed82594390f780c1c96db');
INSERT INTO "event" VALUES(1,49,'StepMarked',1,'{"ordered_because":null,"step":"bring-spare/1","values":[]}',6030,6030,'2031-05-04T08:40:30.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000002d','f326857d781cc9a361d6ce4528fac221d8e130bd59718d5220e0967e986723ec');
INSERT INTO "event" VALUES(1,50,'NoteAdded',1,'{"person":"EV1","step":null,"text":"Foot plate was stiff; wiping started late."}',6070,6070,'2031-05-04T08:41:10.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000002e','cce199bb7893c2e845d7985b608b94d2a09c79a029334ede1b359a9de2d97e07');
INSERT INTO "event" VALUES(1,51,'GoGiven',1,'{"heard":false,"lifted_because":null,"person":"EV2","step":"bring-spare/2"}',6200,6200,'2031-05-04T08:43:20.000Z','Ground','station 1','018f0000-0000-7000-8000-00000000002f','e0a09afd34923720c0237906b7b3fcc59ad852f60d1fd560ae402dd86621c065');
INSERT INTO "event" VALUES(1,52,'ClockStepped',1,'{"step_ms":3600000}',8600,8600,'2031-05-04T10:23:20.000Z','Leadline','server','48f95e9a-d88e-51d9-8521-a3ccb9ecca85','00a3c6c9d173053c5e046f09775789ef63012631e58560f67e3921f93f0c329c');
INSERT INTO "event" VALUES(2,1,'RunStarted',1,'{"kind":"live","revision":"19720c31bc2954f199752668bc1e91606d2918a2f54de06769489c0a83fe64dc","zero_utc":"2031-05-04T08:43:20.000Z"}',0,0,'2031-05-04T08:43:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000030','60f01ebb4c338fb19d87153e60fb65f655f64633ea851bfea456f4ade56c1a67');
INSERT INTO "event" VALUES(2,2,'StepMarked',1,'{"ordered_because":null,"step":"rig/1","values":[]}',400,400,'2031-05-04T08:50:00.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000031','4ea5863b78ca35446a0326c63b1f60c35b766f3268c29fbb92b4f221fbe626fb');
INSERT INTO "event" VALUES(2,3,'NoteAdded',1,'{"person":"EV1","step":null,"text":"“quotes”, <b>, {{7*7}},  right to left , 😀, é and a\nline; it''s 100 % “done”"}',800,800,'2031-05-04T08:56:40.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000032','7969de42cde1aaf66ef919a79e54db59f7feb9dc025ee056a4e7ba3fc5ae04dd');
INSERT INTO "event" VALUES(2,4,'StepMarked',1,'{"ordered_because":null,"step":"rig/2","values":[["angle",45.0]]}',1200,1200,'2031-05-04T09:03:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000033','6a54829273776470560eda71842d3840f6192298febe9b26007355ae0cad7db8');
INSERT INTO "event" VALUES(2,5,'StepReopened',1,'{"asks_again":[],"reason":"undone","step":"rig/2","undone":true}',1600,1600,'2031-05-04T09:10:00.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000034','2fc0a20ac6611509628fbca6099ddcc619a9444517eabc171d9f3d385b621cf2');
INSERT INTO "event" VALUES(2,6,'TakesRevised',1,'{"reason":"the wind rises","step":"wire/1","takes_s":720}',2000,2000,'2031-05-04T09:16:40.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000035','4d1a7a31c545fa6d04d3e37fc69d9a0c7915594ec3cb10343d1977ab94d7cfe4');
INSERT INTO "event" VALUES(2,7,'TasksPutOff',1,'{"reason":"the wind rises","tasks":["paint"]}',2000,2000,'2031-05-04T09:16:40.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000035','ca5da7dd0cc59d9dede188f3da2345b6a54abf8e35c955e131e5ecf46e6b9976');
INSERT INTO "event" VALUES(2,8,'StepMarked',1,'{"ordered_because":null,"step":"rig/2","values":[["angle",45.0]]}',2400,2400,'2031-05-04T09:23:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000036','c032b756aee2beaaab14b6c67ce772c44d667b2373e886c852629165fba80795');
INSERT INTO "event" VALUES(2,9,'ClockStepped',1,'{"step_ms":3600000}',2400,2400,'2031-05-04T10:23:20.000Z','Leadline','server','40e05745-f617-5ce9-9695-81fb9b783a3b','e5b7729041464a698987be3a3300d783ebeebaa7e3c1d1fcbc34f7d503a93a9b');
INSERT INTO "event" VALUES(2,10,'NoteAdded',1,'{"person":null,"step":null,"text":"after the step"}',2400,2400,'2031-05-04T10:23:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000037','7fcb18bbdafd033b0e1a83810f204d29f2f5b2c43ef317284e002b92dcf0e791');
INSERT INTO "event" VALUES(3,1,'RunStarted',1,'{"kind":"rehearsal","revision":"19720c31bc2954f199752668bc1e91606d2918a2f54de06769489c0a83fe64dc","zero_utc":"2031-05-04T10:23:20.000Z"}',0,0,'2031-05-04T10:23:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000038','43a87401eb530d60e552498fd5fda8877532526f072a9c1aeb91a152e59d9171');
INSERT INTO "event" VALUES(3,2,'RunEnded',1,'{"reason":"Storm"}',0,0,'2031-05-04T10:23:20.000Z','Ground','station 1','018f0000-0000-7000-8000-000000000039','27168c6698876403a69b43569ff7d72f673ca1273755f1b9eaaf649471472929');
CREATE TABLE kept (
	name TEXT NOT NULL, 
	value TEXT NOT NULL, 
	CONSTRAINT pk_kept PRIMARY KEY (name)
)
 STRICT

;
CREATE TABLE origin (
	run INTEGER NOT NULL, 
	at_origin INTEGER NOT NULL, 
	imported_at TEXT NOT NULL, 
	"by" TEXT NOT NULL, 
	source TEXT NOT NULL, 
	CONSTRAINT pk_origin PRIMARY KEY (run), 
	CONSTRAINT fk_origin_run FOREIGN KEY(run) REFERENCES run (run)
)
 STRICT

;
CREATE TABLE person (
	name TEXT NOT NULL, 
	may TEXT NOT NULL, 
	password TEXT NOT NULL, 
	enabled INTEGER NOT NULL, 
	added_at TEXT NOT NULL, 
	CONSTRAINT pk_person PRIMARY KEY (name)
)
 STRICT

;
INSERT INTO "person" VALUES('Ana Lead','keep','$argon2id$v=19$m=65536,t=3,p=4$BxENeqZh2ImPgbs3VVAE+Q$Cw/DKWFcgUl1Rbed8v4raWnwXCiXwD90I6ub0+hN1JY',1,'2031-05-04T10:23:20.000Z');
INSERT INTO "person" VALUES('Ben','mark','$argon2id$v=19$m=65536,t=3,p=4$EtD71ViNgQcPGqd2ZYuN0w$Ewl0vSzGcEOdXiI3pC7mwAwbcVzQ6hvoDjh8t7qSRxI',0,'2031-05-04T10:23:20.000Z');
CREATE TABLE receipt (
	run INTEGER NOT NULL, 
	"key" TEXT NOT NULL, 
	sent TEXT NOT NULL, 
	first_seq INTEGER, 
	last_seq INTEGER, 
	answer TEXT NOT NULL, 
	CONSTRAINT pk_receipt PRIMARY KEY (run, "key"), 
	CONSTRAINT fk_receipt_run FOREIGN KEY(run) REFERENCES run (run)
)
 WITHOUT ROWID,
 STRICT

;
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000001','1135fa5685da811aaf05c76ef3ea48a2ae942bee11f4989028e7b156d6fdd34f',1,1,'{"run":1}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000002','3bfb6674908efdcf2f2875f05dfca3f212591d58ac760509a0a538ffe037e58d',2,2,'{"events":[{"at_s":10,"body":{"how":"taken","person":"EV2","reason":"","tool":"torque driver","where":""},"kind":"ToolMoved","seq":2}],"seq":2}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000003','3464a2ca93549d43d9167a17ddfaaea020884edacf980775387fd6dc0b6f0f48',3,3,'{"events":[{"at_s":20,"body":{"how":"taken","person":"EV1","reason":"","tool":"line wrench","where":""},"kind":"ToolMoved","seq":3}],"seq":3}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000004','92c6967863d1fd52d5d7e05ec6184db6cb8018c58ffb639a8acbeb27c29a8241',4,4,'{"events":[{"at_s":30,"body":{"how":"taken","person":"EV2","reason":"","tool":"leak sniffer","where":""},"kind":"ToolMoved","seq":4}],"seq":4}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000005','e83cb4357ca2203242873cdd5219d5f9317d5011d33c69f04f03bd750800f556',5,5,'{"events":[{"at_s":40,"body":{"how":"taken","person":"EV1","reason":"","tool":"camera","where":""},"kind":"ToolMoved","seq":5}],"seq":5}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000006','8642273565fa3756aac37348a578a45f6292e043063329abaf850fd7c6ffa73f',6,6,'{"events":[{"at_s":70,"body":{"heard":true,"person":"EV1","step":"go-out/1"},"kind":"WarningAcknowledged","seq":6}],"seq":6}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000007','db076d109bc7b803721029b0c3c88d650ebc3dbfd4b0147686e43f7b1f2b371b',7,7,'{"events":[{"at_s":80,"body":{"heard":true,"person":"EV2","step":"go-out/1"},"kind":"WarningAcknowledged","seq":7}],"seq":7}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000008','5cba562c9b734802ccb208af4bf90cd3224400aeef28ac88d0e3bcd5f6198db6',8,8,'{"events":[{"at_s":310,"body":{"anew":false,"heard":true,"person":"EV1","supply":"battery","value":100.0},"kind":"ReadingTaken","seq":8}],"seq":8}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000009','c3ec6e99ad84098f7a0814a64c9fff67eae05a6ab5b0049e9dffcd5b196d602f',9,9,'{"events":[{"at_s":320,"body":{"anew":false,"heard":true,"person":"EV2","supply":"battery","value":100.0},"kind":"ReadingTaken","seq":9}],"seq":9}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000000a','075dfc48413fa006c4158073c4882eadcba58c5a323f6ea8fa7e43c4d9304264',10,10,'{"events":[{"at_s":620,"body":{"ordered_because":null,"step":"go-out/1","values":[]},"kind":"StepMarked","seq":10}],"seq":10}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000000b','020445915e42f07049071fccebbe20b9d9fef8f5b244ef2291231d7920deeaba',11,11,'{"events":[{"at_s":1270,"body":{"ordered_because":null,"step":"go-out/2","values":[]},"kind":"StepMarked","seq":11}],"seq":11}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000000c','1f496c9f8d03376c924c4972468cc7a6a8f79e71fc30e635adce15b755893a93',12,12,'{"events":[{"at_s":1680,"body":{"ordered_because":null,"step":"unplug/1","values":[]},"kind":"StepMarked","seq":12}],"seq":12}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000000d','ac96e97f60d6a90ddaa448aaca327ea86d127b20776a3902297ad94222478346',13,13,'{"events":[{"at_s":1730,"body":{"how":"handed","person":"EV2","reason":"","tool":"camera","where":""},"kind":"ToolMoved","seq":13}],"seq":13}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000000e','85021a393d15191ced0cf1bab4e77c1202fb1c8096bcd7db4eda1c17676cb0c7',14,14,'{"events":[{"at_s":1810,"body":{"ordered_because":null,"step":"shut-valves/1","values":[]},"kind":"StepMarked","seq":14}],"seq":14}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000000f','fc58c41113cdc68e76483338557a05181b1078a4ae8c510d24cd62f4ac01a66f',15,15,'{"events":[{"at_s":2010,"body":{"ordered_because":null,"step":"unplug/2","values":[]},"kind":"StepMarked","seq":15}],"seq":15}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000010','2edc7d354ce569b69d54fe107d2f4d1678502a251daaa1bd839439c3951ad570',16,16,'{"events":[{"at_s":2080,"body":{"ordered_because":null,"step":"shut-valves/2","values":[["turns",12.0]]},"kind":"StepMarked","seq":16}],"seq":16}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000011','e07655607700ab2396d3b873e768ce740b9464fb20886f9840ae254c146d1771',17,17,'{"events":[{"at_s":2330,"body":{"ordered_because":null,"step":"unplug/3","values":[]},"kind":"StepMarked","seq":17}],"seq":17}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000012','ee49db6e50dcfb872c919a900ba9ce6adf441c89aa99e90be1cd8d4da55abe0f',18,18,'{"events":[{"at_s":2350,"body":{"ordered_because":null,"step":"shut-valves/3","values":[["turns",13.5]]},"kind":"CompletionCalled","seq":18}],"seq":18}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000013','097ce8b8bdfd5accf1446fba2fdbfd74327bd7fad471c7a7d44a0ac00283cd3b',19,20,'{"events":[{"at_s":2370,"body":{"reason":"V2 has gone half a turn over before; it feels shut","step":"shut-valves/3"},"kind":"ValuesAccepted","seq":19},{"at_s":2370,"body":{"ordered_because":null,"step":"shut-valves/3","values":[["turns",13.5]]},"kind":"StepMarked","seq":20}],"seq":20}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000014','20567abf9d4793f4439326b80ec97111515aa3667867f8d8d3cb8fd82e89d1e2',21,21,'{"events":[{"at_s":2400,"body":{"person":null,"step":"shut-valves/3","text":"V2 took 13.5 turns, half a turn over; it feels shut. Ground concurs."},"kind":"NoteAdded","seq":21}],"seq":21}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000015','040ee787b30cee229e21f21c57647f3a706fa713249d3c3d17eeef0c9e4b57de',22,22,'{"events":[{"at_s":2760,"body":{"ordered_because":null,"step":"isolate/1","values":[]},"kind":"StepMarked","seq":22}],"seq":22}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000016','61fee94eab3ed0a8a8d7241256c5ca088b306a694222b09bcefafaf7d4f2d4f0',23,23,'{"events":[{"at_s":2780,"body":{"asks_again":[],"reason":"undone","step":"isolate/1","undone":true},"kind":"StepReopened","seq":23}],"seq":23}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000017','e2ed1754bf51b3a4cc95672f0802dc00821b6846f68d88b1f328d5821ff42aff',24,24,'{"events":[{"at_s":2860,"body":{"ordered_because":null,"step":"isolate/1","values":[]},"kind":"StepMarked","seq":24}],"seq":24}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000018','9ece77cd34d6c90f86d36835eafcb5d274565af01a99c6104b39813bc2d3c8a9',25,25,'{"events":[{"at_s":2950,"body":{"ordered_because":null,"step":"isolate/2","values":[]},"kind":"StepMarked","seq":25}],"seq":25}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000019','22455aafaf6447900358968ef5387b3ced65a396ab4d8c38e5982ba72fa1801b',26,27,'{"events":[{"at_s":2970,"body":{"answer":"","good":true,"heard":true,"person":"EV1","round":"gloves-and-suit"},"kind":"RoundAnswered","seq":26},{"at_s":2970,"body":{"anew":false,"heard":true,"person":"EV1","supply":"battery","value":86.0},"kind":"ReadingTaken","seq":27}],"seq":27}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000001a','91127941cbdbb7271018cd6bf140caa23e2b49b798cdb40a2b6d2cca3370fb40',28,28,'{"events":[{"at_s":3450,"body":{"ordered_because":null,"step":"unplug/4","values":[]},"kind":"StepMarked","seq":28}],"seq":28}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000001b','6facc3f0d8558c52794874a9b5a765944a97f2119e01707fe4cf7a6b9765fd93',29,29,'{"events":[{"at_s":3580,"body":{"first":1,"last":1,"step":"free-old/1"},"kind":"ActionsDone","seq":29}],"seq":29}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000001c','8e520783805abe171f5d747417fa980cf968064bf5b74a4bd53d8d5028d4a4cc',30,30,'{"events":[{"at_s":3670,"body":{"first":2,"last":2,"step":"free-old/1"},"kind":"ActionsDone","seq":30}],"seq":30}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000001d','34f8de7d9a5396ec7243e54077a387bc35b0cc88c1551ffef709d749c9982383',31,31,'{"events":[{"at_s":3750,"body":{"first":3,"last":3,"step":"free-old/1"},"kind":"ActionsDone","seq":31}],"seq":31}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000001e','0eb31d3814fe75c0c9ae93fa21ec01cf6a459562cc4d416d28c97974abf385ed',32,32,'{"events":[{"at_s":3830,"body":{"first":4,"last":4,"step":"free-old/1"},"kind":"ActionsDone","seq":32}],"seq":32}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000001f','0e4fdd9dbb93f12f6f8f47466c766f248ca19e5619c62ff21f8c589c88e85a34',33,33,'{"events":[{"at_s":3930,"body":{"first":5,"last":5,"step":"free-old/1"},"kind":"ActionsDone","seq":33}],"seq":33}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000020','9b69ff57b59f0515edf377429dac979fae20cd7fcd302014d5a8931243da94db',34,34,'{"events":[{"at_s":4010,"body":{"first":6,"last":6,"step":"free-old/1"},"kind":"ActionsDone","seq":34}],"seq":34}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000021','240dd4297ac72e6ca80691d26e35b3ac8799394017ed778fec39b8ad980a7260',35,35,'{"events":[{"at_s":4120,"body":{"first":7,"last":7,"step":"free-old/1"},"kind":"ActionsDone","seq":35}],"seq":35}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000022','91468738732e5e2c21a37a854af2f9b65415038f2ff9659df3fe3171b2a6bb35',36,37,'{"events":[{"at_s":4210,"body":{"first":8,"last":8,"step":"free-old/1"},"kind":"ActionsDone","seq":36},{"at_s":4210,"body":{"ordered_because":null,"step":"free-old/1","values":[]},"kind":"StepMarked","seq":37}],"seq":37}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000023','51b0da65ccdad526283f11b293ecda616ab931199b4a889782583ef5019a78e8',38,39,'{"events":[{"at_s":3740,"body":{"answer":"left glove scuffed, no cut","good":true,"heard":true,"person":"EV2","round":"gloves-and-suit"},"kind":"RoundAnswered","seq":38},{"at_s":3740,"body":{"anew":false,"heard":true,"person":"EV2","supply":"battery","value":85.5},"kind":"ReadingTaken","seq":39}],"seq":39}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000024','4c6898dd13fd7f49616c03d1e397e573202659f79cbb187a60e6154b7894ab54',40,40,'{"events":[{"at_s":4380,"body":{"how":"left","person":"EV2","reason":"","tool":"leak sniffer","where":"bay 4 right"},"kind":"ToolMoved","seq":40}],"seq":40}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000025','53a19c00a184f37e3c6a073da44451fb1052f367fe4143c30af256d88366640e',41,41,'{"events":[{"at_s":4470,"body":{"ordered_because":null,"step":"free-old/2","values":[]},"kind":"StepMarked","seq":41}],"seq":41}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000026','9d93231c6163e8ea769bb516602dc5ba593453e900495830ec1f564c533a057a',42,42,'{"events":[{"at_s":4810,"body":{"ordered_because":null,"step":"take-away/1","values":[]},"kind":"StepMarked","seq":42}],"seq":42}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000027','e9a388580441c224d4f6aec0be06bc6cef79cbfe2a00a8c6f69434587bcb806c',43,43,'{"events":[{"at_s":4920,"body":{"places":[["EV1","plug"]],"task":"wipe-window"},"kind":"WorkTaken","seq":43}],"seq":43}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000028','ebdf1efc8d9e01b0395d9c3cb0384231368ee878c27827b2e32168520977ff85',44,44,'{"events":[{"at_s":4950,"body":{"step":"wipe-window/1"},"kind":"StartRecorded","seq":44}],"seq":44}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-000000000029','74818f27bfa62f90b630e8744413908b7ee57ed08223a5505a0c393dc681bc59',45,45,'{"events":[{"at_s":5460,"body":{"ordered_because":null,"step":"take-away/2","values":[]},"kind":"StepMarked","seq":45}],"seq":45}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000002a','aa5a9ddcdd038878107d4cc67f04eacb97b0ccb57683e60cdb902a4699319a08',46,46,'{"events":[{"at_s":5580,"body":{"anew":false,"heard":true,"person":"EV1","supply":"battery","value":72.0},"kind":"ReadingTaken","seq":46}],"seq":46}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000002b','a1b81df0573c0e358cf3fbe54b7bc1980f2297373cdc2fbd4a311b0e3c338420',47,47,'{"events":[{"at_s":5610,"body":{"anew":false,"heard":true,"person":"EV2","supply":"battery","value":78.5},"kind":"ReadingTaken","seq":47}],"seq":47}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000002c','e6336a362e3ca29eb90297924f3446f04454c6bd8f0b363875cd70c94109b5d8',48,48,'{"events":[{"at_s":6010,"body":{"ordered_because":null,"step":"wipe-window/1","values":[]},"kind":"StepMarked","seq":48}],"seq":48}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000002d','c960c348c0dc8d2f6e2e908540b4eea28a1c761646b041987618d90a814c80bc',49,49,'{"events":[{"at_s":6030,"body":{"ordered_because":null,"step":"bring-spare/1","values":[]},"kind":"StepMarked","seq":49}],"seq":49}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000002e','894e18ea04eb1bfbaa6a969331a680c92dc18a29b8d0210435187d8e4dc68b02',50,50,'{"events":[{"at_s":6070,"body":{"person":"EV1","step":null,"text":"Foot plate was stiff; wiping started late."},"kind":"NoteAdded","seq":50}],"seq":50}');
INSERT INTO "receipt" VALUES(1,'018f0000-0000-7000-8000-00000000002f','19512d81eb0591faba0f8be67c21486dfdeee897e90821d6d51aff2b52ec6615',51,51,'{"events":[{"at_s":6200,"body":{"heard":false,"lifted_because":null,"person":"EV2","step":"bring-spare/2"},"kind":"GoGiven","seq":51}],"seq":51}');
INSERT INTO "receipt" VALUES(1,'48f95e9a-d88e-51d9-8521-a3ccb9ecca85','0350583ac568be4182991e16d4b1fc28701e04656ac7be5b695d481592b0fe04',52,52,'{"events":[{"at_s":8600,"body":{"step_ms":3600000},"kind":"ClockStepped","seq":52}],"seq":52}');
INSERT INTO "receipt" VALUES(2,'018f0000-0000-7000-8000-000000000030','138f369745434ab94919800c4b923382a30928ddbc68c7613d5f0e9fb4f78909',1,1,'{"run":2}');
INSERT INTO "receipt" VALUES(2,'018f0000-0000-7000-8000-000000000031','ea9113cfb2148f97f6f7e3dc6448d7c76c691b5761068caf62362dca6eadd22a',2,2,'{"events":[{"at_s":400,"body":{"ordered_because":null,"step":"rig/1","values":[]},"kind":"StepMarked","seq":2}],"seq":2}');
INSERT INTO "receipt" VALUES(2,'018f0000-0000-7000-8000-000000000032','e8ff9ad2052dab9e5f6338eb525d85dfe9d130ff117492c5a72e1e48023439bc',3,3,'{"events":[{"at_s":800,"body":{"person":"EV1","step":null,"text":"“quotes”, <b>, {{7*7}},  right to left , 😀, é and a\nline; it''s 100 % “done”"},"kind":"NoteAdded","seq":3}],"seq":3}');
INSERT INTO "receipt" VALUES(2,'018f0000-0000-7000-8000-000000000033','41763afae7327996d8130cb6398c9848a09219bb64c43b2249452aef5a85c70c',4,4,'{"events":[{"at_s":1200,"body":{"ordered_because":null,"step":"rig/2","values":[["angle",45.0]]},"kind":"StepMarked","seq":4}],"seq":4}');
INSERT INTO "receipt" VALUES(2,'018f0000-0000-7000-8000-000000000034','193c6e02093314ed1dffabc45ddf4c47e60ce844d0a83eb97cde5c8d69268c74',5,5,'{"events":[{"at_s":1600,"body":{"asks_again":[],"reason":"undone","step":"rig/2","undone":true},"kind":"StepReopened","seq":5}],"seq":5}');
INSERT INTO "receipt" VALUES(2,'018f0000-0000-7000-8000-000000000035','6e6abcc4c0bd4c8c330e49a191c6980cc9cf7ef30b64fda0e2678856c819a349',6,7,'{"events":[{"at_s":2000,"body":{"reason":"the wind rises","step":"wire/1","takes_s":720},"kind":"TakesRevised","seq":6},{"at_s":2000,"body":{"reason":"the wind rises","tasks":["paint"]},"kind":"TasksPutOff","seq":7}],"seq":7}');
INSERT INTO "receipt" VALUES(2,'018f0000-0000-7000-8000-000000000036','41763afae7327996d8130cb6398c9848a09219bb64c43b2249452aef5a85c70c',8,8,'{"events":[{"at_s":2400,"body":{"ordered_because":null,"step":"rig/2","values":[["angle",45.0]]},"kind":"StepMarked","seq":8}],"seq":8}');
INSERT INTO "receipt" VALUES(2,'018f0000-0000-7000-8000-000000000037','cd66f110c6578dceb412eb31fde77e31410498168e71ba165a1b66caab9713e6',10,10,'{"events":[{"at_s":2400,"body":{"person":null,"step":null,"text":"after the step"},"kind":"NoteAdded","seq":10}],"seq":10}');
INSERT INTO "receipt" VALUES(2,'40e05745-f617-5ce9-9695-81fb9b783a3b','0350583ac568be4182991e16d4b1fc28701e04656ac7be5b695d481592b0fe04',9,9,'{"events":[{"at_s":2400,"body":{"step_ms":3600000},"kind":"ClockStepped","seq":9}],"seq":9}');
INSERT INTO "receipt" VALUES(3,'018f0000-0000-7000-8000-000000000038','290a3f05ad7006d97d9abbfa46767a1bc444690844535e6a2a7670165dc39592',1,1,'{"run":3}');
INSERT INTO "receipt" VALUES(3,'018f0000-0000-7000-8000-000000000039','24558808dc9a9ec2aee6b8ee64f1db24f7c790a224d096bbb873db5a11009190',2,2,'{"events":[{"at_s":0,"body":{"reason":"Storm"},"kind":"RunEnded","seq":2}],"seq":2}');
CREATE TABLE revision (
	hash TEXT NOT NULL, 
	procedure TEXT NOT NULL, 
	title TEXT NOT NULL, 
	text TEXT NOT NULL, 
	source TEXT NOT NULL, 
	loaded_at TEXT NOT NULL, 
	CONSTRAINT pk_revision PRIMARY KEY (hash)
)
 STRICT

;
INSERT INTO "revision" VALUES('36f393e468fefea5a2645c2954cbab94f6762fb7046c80f53fff4de4730ec6bc','pump-changeout','Coolant pump changeout','# An example of the format. Invented: no such outpost, pump or crew exists.
procedure: pump-changeout
title: Coolant pump changeout
about: Larkspur outpost, outing 3. Take out the worn loop B pump, put in the spare, prove the loop.
zero: Outer hatch open
crew:
  EV1: {does: "Outside, left side"}
  EV2: {does: "Outside, right side"}
  ARM: {does: "Arm operators, inside"}
  GROUND: {does: "Loop systems, on the ground"}
limits:
  finish: 4:50
  close_out: come-in
windows:
  daylight: [[0:10, 1:05], [1:42, 2:37], [3:14, 4:09]]
rounds:
  - round: gloves-and-suit
    asks: Gloves, suit, tethers. Any damage?
    who: [EV1, EV2]
    every: 60 min
supplies:
  - supply: battery
    who: [EV1, EV2]
    unit: "%"
    reserve: 12
tools: [torque driver, line wrench, leak sniffer, camera, pry bar]
get_ahead: {least_lead: 0 s}

tasks:
  - task: go-out
    title: Go out and set up
    who: [EV1, EV2]
    steps:
      - do: Leave the hatch; swap tethers; check each other
        takes: 10 min
        warning: One tether hooked at all times.
      - do: Carry the tool bags to bay 4
        takes: [8 min, 12 min, 20 min]

  - task: shut-valves
    title: Shut the loop B valves
    who: EV2
    after: [go-out]
    where: bay 4 right
    steps:
      - {do: Set up the foot plate at bay 4 right, takes: 9 min}
      - do: Shut valve V1
        takes: 5 min
        record: {turns: {unit: turn, from: 11, to: 13}}
      - do: Shut valve V2
        takes: 5 min
        record: {turns: {unit: turn, from: 11, to: 13}}

  - task: isolate
    title: Prove the loop is isolated
    who: GROUND
    after: [shut-valves]
    steps:
      - {do: Vent loop B and watch the pressure fall below 20 kPa, takes: 8 min}
      - {do: Call the loop isolated, takes: 1 min}

  - task: unplug
    title: Unplug the old pump
    who: EV1
    after: [go-out]
    where: bay 4 left
    needs: [line wrench]
    steps:
      - {do: Photograph the old pump from three sides, takes: 6 min}
      - {do: Unplug power P1 and cap it, takes: 7 min}
      - {do: Unplug data D1 and cap it, takes: 6 min}
      - do: Open line L1 one quarter turn; watch the seal for 30 s; then open fully
        takes: [7 min, 9 min, 18 min]
        after: [isolate]
        caution: Leftover coolant may escape. Keep the visor clear of the joint.

  - task: free-old
    title: Free and remove the old pump
    who: EV2
    after: [unplug, isolate]
    needs: [torque driver]
    steps:
      - do: Loosen the eight frame screws
        count: 8
        takes: 21 min
      - {do: Steady the pump while the arm takes it, takes: 6 min}

  - task: take-away
    title: Carry the old pump to the rack
    who: ARM
    after: [free-old]
    steps:
      - {do: Draw the pump out along the rails, takes: 8 min}
      - {do: Park it in rack slot 2, takes: 14 min}

  - task: bring-spare
    title: Bring the spare pump
    who: ARM
    after: [take-away]
    steps:
      - {do: Take the spare from rack slot 1, takes: 12 min}
      - do: Stop at 80 cm. Is the pump square to the rails?
        takes: 4 min
        hold: {go: [EV1, EV2]}
      - do: Stop at 25 cm. Are both rails in their guides?
        takes: 4 min
        hold: {go: [EV1, EV2, GROUND]}
        record: {gap left: {unit: mm, from: 2, to: 6}, gap right: {unit: mm, from: 2, to: 6}}
      - {do: Slide the pump home, takes: 6 min}

  - task: fasten
    title: Fasten the spare pump
    who: EV2
    after: [bring-spare]
    needs: [torque driver]
    steps:
      - do: Drive the eight frame screws; count the turns of the last
        count: 8
        takes: [24 min, 30 min, 48 min]
        record: {turns: {unit: turn, from: 14, to: 17}}
      - {do: Torque check on screws 1 and 4, takes: 5 min, confirm_by: EV1}

  - task: plug
    title: Plug in the spare pump
    who: EV1
    after: [bring-spare]
    needs: [line wrench, leak sniffer]
    steps:
      - {do: Mate line L1; check the lock ring, takes: 10 min}
      - {do: Mate line L2; check the lock ring, takes: 10 min}
      - {do: Plug data D1, takes: 6 min}
      - do: Plug power P1
        takes: 6 min
        after: [fasten]
        warning: Ground confirms the circuit is dead first.

  - task: prove
    title: Leak check and start
    who: GROUND
    after: [plug]
    steps:
      - do: Fill loop B to 140 kPa; hold for 10 min
        takes: 14 min
        record: {pressure drop: {unit: kPa, from: 0, to: 3}}
      - {do: Start the pump at low speed, takes: 4 min}

  - task: watch
    title: Watch the pump start
    who: EV1
    after: [{step: prove/1, wait: 0 s}]
    steps:
      - {do: "Sniff both line joints while the pump starts", takes: 8 min}

  - task: photo-survey
    title: Photo survey of bay 3
    who: EV2
    after: [fasten]
    may_put_off: true
    worth: 4
    needs: [camera]
    within: daylight
    steps:
      - {do: Twelve photographs along the bay 3 panel edge, takes: 18 min}

  - task: swap-lamp
    title: Swap the bay 3 lamp
    who: EV2
    after: [photo-survey]
    may_put_off: true
    worth: 3
    steps:
      - {do: Unclip the dead lamp, takes: 6 min}
      - {do: Clip in the new lamp; ground checks the light, takes: 6 min}

  - task: come-in
    title: Gather tools and come in
    who: [EV1, EV2]
    after: [watch, swap-lamp]
    steps:
      - {do: Count the tools into the bags, takes: 10 min}
      - {do: Back to the hatch; check each other for coolant, takes: 14 min}
      - {do: "In, and hatch shut", takes: 8 min}

  - task: wipe-window
    title: Wipe down the bay 4 sensor window
    who: EV1
    get_ahead: true
    after: [unplug]
    steps:
      - {do: Set up at the sensor window, takes: 8 min}
      - {do: "Wipe the window in three passes, a fresh cloth each", takes: 40 min}

  - task: check-clips
    title: Check the rail clips at bay 4 right
    who: EV2
    get_ahead: true
    after: [free-old]
    steps:
      - {do: Press each rail clip home; call the count, takes: 9 min}

  - task: sample-tray
    title: Bring in sample tray C
    who: EV2
    get_ahead: true
    after: [fasten]
    steps:
      - {do: Unhook tray C and bag it, takes: 9 min}

  - task: spare-cable
    title: Route the spare camera cable
    who: EV1
    get_ahead: true
    after: [plug]
    steps:
      - {do: Clip the cable along handrails 7 to 11, takes: 22 min}
','pump-changeout.yaml','2031-05-04T07:00:00.000Z');
INSERT INTO "revision" VALUES('19720c31bc2954f199752668bc1e91606d2918a2f54de06769489c0a83fe64dc','mast','Mast work','procedure: mast
title: Mast work
crew: {EV1: {does: Left}, EV2: {does: Right}}
on_plan_within: 0 s
tasks:
  - task: rig
    title: Rig the mast
    who: EV1
    steps:
      - {do: Open the box, takes: 5 min}
      - {do: Raise the mast, takes: 10 min, record: {angle: {unit: deg, from: 0, to: 90}}}
  - task: wire
    title: Wire the lamp
    who: EV2
    after: [rig]
    steps:
      - {do: Join the wires, takes: 10 min}
      - {do: Is the lamp lit?, takes: 2 min, hold: {go: [EV1, EV2]}}
  - task: paint
    title: Paint the foot
    who: EV1
    may_put_off: true
    worth: 3
    steps:
      - {do: Paint it grey, takes: 10 min}
  - task: sweep
    title: Sweep the yard
    who: EV2
    get_ahead: true
    steps:
      - {do: Sweep it, takes: 3 min}
','mast.yaml','2031-05-04T08:43:20.000Z');
CREATE TABLE run (
	run INTEGER NOT NULL, 
	revision TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	zero_utc TEXT NOT NULL, 
	started_at TEXT NOT NULL, 
	CONSTRAINT pk_run PRIMARY KEY (run), 
	CONSTRAINT fk_run_revision FOREIGN KEY(revision) REFERENCES revision (hash)
)
 STRICT

;
INSERT INTO "run" VALUES(1,'36f393e468fefea5a2645c2954cbab94f6762fb7046c80f53fff4de4730ec6bc','rehearsal','2031-05-04T07:00:00.000Z','2031-05-04T07:00:00.000Z');
INSERT INTO "run" VALUES(2,'19720c31bc2954f199752668bc1e91606d2918a2f54de06769489c0a83fe64dc','live','2031-05-04T08:43:20.000Z','2031-05-04T08:43:20.000Z');
INSERT INTO "run" VALUES(3,'19720c31bc2954f199752668bc1e91606d2918a2f54de06769489c0a83fe64dc','rehearsal','2031-05-04T10:23:20.000Z','2031-05-04T10:23:20.000Z');
CREATE TABLE session (
	token TEXT NOT NULL, 
	person TEXT NOT NULL, 
	station TEXT NOT NULL, 
	begun_at TEXT NOT NULL, 
	ends_at TEXT NOT NULL, 
	CONSTRAINT pk_session PRIMARY KEY (token), 
	CONSTRAINT fk_session_person FOREIGN KEY(person) REFERENCES person (name)
)
 STRICT

;
INSERT INTO "session" VALUES('a04c26e2186b0233bf7c03374c81231decd8b5f8c930a60d836351e35b0a8f35','Ana Lead','desk 1','2031-05-04T10:23:20.000Z','2031-05-05T10:23:20.000Z');
CREATE TRIGGER revision_no_update BEFORE UPDATE ON revision BEGIN SELECT RAISE(ABORT, 'a revision is never changed or deleted: load the new text as a new revision'); END;
CREATE TRIGGER revision_no_delete BEFORE DELETE ON revision BEGIN SELECT RAISE(ABORT, 'a revision is never changed or deleted: load the new text as a new revision'); END;
CREATE TRIGGER run_no_update BEFORE UPDATE ON run BEGIN SELECT RAISE(ABORT, 'a run is never changed or deleted: what happens to it is an event'); END;
CREATE TRIGGER run_no_delete BEFORE DELETE ON run BEGIN SELECT RAISE(ABORT, 'a run is never changed or deleted: what happens to it is an event'); END;
CREATE TRIGGER receipt_no_update BEFORE UPDATE ON receipt BEGIN SELECT RAISE(ABORT, 'a receipt is never changed or deleted: it is what was answered'); END;
CREATE TRIGGER receipt_no_delete BEFORE DELETE ON receipt BEGIN SELECT RAISE(ABORT, 'a receipt is never changed or deleted: it is what was answered'); END;
CREATE TRIGGER event_no_update BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'an event is never changed or deleted: record a new one that corrects it'); END;
CREATE TRIGGER event_no_delete BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'an event is never changed or deleted: record a new one that corrects it'); END;
CREATE TRIGGER origin_no_update BEFORE UPDATE ON origin BEGIN SELECT RAISE(ABORT, 'where a run came from is never changed or deleted: its chain is checked by it'); END;
CREATE TRIGGER origin_no_delete BEFORE DELETE ON origin BEGIN SELECT RAISE(ABORT, 'where a run came from is never changed or deleted: its chain is checked by it'); END;
CREATE INDEX ix_event_by ON event ("by");
COMMIT;
