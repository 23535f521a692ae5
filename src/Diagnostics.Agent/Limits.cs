namespace Diagnostics.Agent;

/// <summary>Every limit of the executable, with its reason.</summary>
internal static class Limits
{
    /// <summary>Longest file of settings or as-built record that is read, bytes. A record of 127 nodes with names takes about 100 KB.</summary>
    public const int ConfigurationBytes = 4 * 1024 * 1024;

    /// <summary>Size of the log unless told otherwise, megabytes; StoreBudget tells what fits.</summary>
    public const int DefaultLogMegabytes = 512;

    /// <summary>Smallest log whose tiers have two segments each, megabytes, the index included.</summary>
    public const int MinimumLogMegabytes = 32;

    /// <summary>Largest log, megabytes: small boards boot from cards of 4 GB and more, and half of that is not ours.</summary>
    public const int MaximumLogMegabytes = 2048;

    /// <summary>Longest time that changes of inputs are kept, days.</summary>
    public const int MaximumInputDays = 366;

    /// <summary>Batches that wait for the log's writer. One a second is usual; the card may stall for minutes before any is lost.</summary>
    public const int HistoryQueue = 256;

    /// <summary>Frames that wait for the log's writer, bytes: four long captures. Where the card stalls for longer, what comes is noted without frames.</summary>
    public const int WaitingFrameBytes = 16 << 20;

    /// <summary>Minute rows kept in memory for the chart: one week of one interface, or a day of seven.</summary>
    public const int MinuteRowsInMemory = 7 * 24 * 60;

    /// <summary>Minutes of measured values kept in memory, for a time axis without a log: a day, 1 MB with all sensors.</summary>
    public const int MeasuredRowsInMemory = 24 * 60;

    /// <summary>Points drawn in one chart; more would be closer together than a pixel of a phone.</summary>
    public const int ChartPoints = 360;

    /// <summary>Longest piece of text from the site (a name, an evidence row) that is shown, characters.</summary>
    public const int ShownText = 600;

    /// <summary>Longest name of a node that is shown, characters; two lines of a phone.</summary>
    public const int ShownName = 60;

    /// <summary>Identifiers listed on the page for one bus; the document has all of them.</summary>
    public const int IdentifiersShown = 200;

    /// <summary>Causes that a finding shows besides the likeliest.</summary>
    public const int FurtherCauses = 6;

    /// <summary>Longest note of a mark, characters: a sentence.</summary>
    public const int NoteLength = 200;

    /// <summary>Marks that wait for the next tick; a person sets one.</summary>
    public const int WaitingMarks = 16;

    /// <summary>Latest events of all buses that pages can follow; minutes of a busy site, and about a megabyte.</summary>
    public const int EventsInMemory = 4096;

    /// <summary>Inputs and outputs whose changes are kept in memory: 127 nodes with 32 each.</summary>
    public const int PointsInMemory = 4096;

    /// <summary>Latest changes of an input or output that its page shows; the log has more.</summary>
    public const int ChangesOfPoint = 40;

    /// <summary>Outputs that a walk test shows behind one input, the latest.</summary>
    public const int ReactionsOfInput = 8;

    /// <summary>Acknowledgements in memory, the latest: as many as findings of several runs.</summary>
    public const int Acknowledgements = 512;

    /// <summary>Events in the life of a node that stand open on its page, the latest; a screen of a phone.</summary>
    public const int HistoryOpen = 12;

    /// <summary>Events in the life of a node that are folded behind those.</summary>
    public const int HistoryShown = 400;

    /// <summary>Events in the lives of nodes that pages show, the latest; the log has more.</summary>
    public const int NodeEventsInMemory = 2048;

    /// <summary>Pages that are kept current by a stream at the same time: several people with several pages each.</summary>
    public const int StreamReaders = LoopbackStreams + DistantStreams;

    /// <summary>Pieces that a page is made of, at most.</summary>
    public const int PiecesOfPage = 64;

    /// <summary>Fields of a form that is taken; the longest but those of the as-built record has five.</summary>
    public const int FormFields = 8;

    /// <summary>Longest body of a request, bytes: a note, each character of it encoded.</summary>
    public const int RequestBody = 4096;

    /// <summary>Versions of the as-built record that are kept, the latest: a year of changes, and 4 MB where every node is named in full.</summary>
    public const int RecordVersions = 40;

    /// <summary>Longest form with names of the site, or record that is imported, bytes: the record's own limit of 1 MB, and what a form adds to it.</summary>
    public const int RecordForm = 1_250_000;

    /// <summary>Fields of a form with names of the site: a board with every input and output that can be told, seven for each pair.</summary>
    public const int RecordFormFields = 16_384;

    /// <summary>Rows for inputs or outputs that are not known yet, on the page that names them.</summary>
    public const int SpareRows = 2;

    /// <summary>How long a browser remembers the language that its reader chose: a site is visited once a year at least.</summary>
    public static readonly TimeSpan LanguageKept = TimeSpan.FromDays(400);

    /// <summary>Findings of earlier runs on the page, the latest; the log has all of them.</summary>
    public const int EarlierFindings = 50;

    /// <summary>Marks and kept frames on the page; the latest.</summary>
    public const int MarksOnPage = 20;

    /// <summary>Marks and kept frames that are listed, the latest; the log has all of them.</summary>
    public const int CapturesShown = 500;

    /// <summary>Longest name of a soak test, characters: it heads the hand-over record.</summary>
    public const int SoakName = 80;

    /// <summary>Episodes of findings that the time axis knows, some 5 MB; beyond that the oldest run's are let go. The log has all of them.</summary>
    public const int ChronicleEpisodes = 20_000;

    /// <summary>Events of nodes that the time axis knows, some 16 MB: a node that restarts every two minutes for a year. The log has all of them.</summary>
    public const int ChronicleNodeEvents = 250_000;

    /// <summary>Buses that are drawn on the time axis; a board has one or two.</summary>
    public const int ChronicleBuses = 4;

    /// <summary>Things that happened in a stretch of time and are listed one by one; two screens of a phone hold ten.</summary>
    public const int HappeningsShown = 40;

    /// <summary>Stretches of time that are kept drawn, of 100 KB at most: some readers, each with the stretch before.</summary>
    public const int StretchesKept = 12;

    /// <summary>Frames on a page of them: more would be scrolled past.</summary>
    public const int FramesOnPage = 100;

    /// <summary>What is read of a file of frames, bytes: four times the longest that this program keeps.</summary>
    public const int FrameFileBytes = 16 << 20;

    /// <summary>Questions to the log that wait for its thread: some readers that zoom at once.</summary>
    public const int WaitingQuestions = 16;

    /// <summary>Findings on a hand-over record: ten sheets of A4, and more is no hand-over. The report document has all of them.</summary>
    public const int FindingsOnRecord = 40;

    /// <summary>Identifiers on a hand-over record: two sheets of A4. The report document has all of them.</summary>
    public const int IdentifiersOnRecord = 60;

    /// <summary>Longest hand-over record that a service is taken at its word for, bytes; 127 nodes and the most findings are below 1 MB.</summary>
    public const int RecordBytes = 8 << 20;

    /// <summary>Events of the board itself on the page, the latest.</summary>
    public const int BoardEventsShown = 20;

    /// <summary>Events of the board that are remembered, the latest; the log has all of them.</summary>
    public const int BoardEventsInMemory = 200;

    /// <summary>Values of sensors that wait for the analysis: a minute and a half of all that can be fitted, and 200 KB.</summary>
    public const int WaitingMeasurements = 8192;

    /// <summary>A call into a sensor that takes longer hangs. The kernel's drivers give a transfer up after one second (struct i2c_adapter, timeout, from memory).</summary>
    public static readonly TimeSpan SensorHangs = TimeSpan.FromSeconds(4);

    /// <summary>Pause before a sensor in trouble is looked for again.</summary>
    public static readonly TimeSpan RetrySensor = TimeSpan.FromSeconds(5);

    /// <summary>How often the values of a sensor are shown anew.</summary>
    public static readonly TimeSpan ShowSensor = TimeSpan.FromMilliseconds(500);

    /// <summary>Soak tests that are listed, the latest; the log has all of them.</summary>
    public const int SoaksShown = 20;

    /// <summary>Findings remembered to tell news from known, in the journal and for the log. The analysis has a limit below this.</summary>
    public const int RememberedFindings = 10_000;

    /// <summary>
    /// A finding that was over and goes on within one episode is told so long after what was told last: a module that takes its fault back and reports it again
    /// many times a second would fill journal and card otherwise.
    /// </summary>
    public static readonly TimeSpan GoesOnAgain = TimeSpan.FromMinutes(1);

    /// <summary>
    /// Files in a bundle. The largest log has about 1,700 segments; kept frames of a quiet bus are small and may be many, and then the latest are taken.
    /// </summary>
    public const int BundleFiles = 10_000;

    /// <summary>Content of a bundle, bytes, and the longest file that is opened as one: the store and the frames of the largest log are half of it, 1 GB, and the rest is small.</summary>
    public const long BundleBytes = 1280L << 20;

    /// <summary>Longest manifest of a bundle, bytes: 10,000 files with their hashes take 2 MB.</summary>
    public const int BundleManifestBytes = 4 << 20;

    /// <summary>Sentences in a manifest on what was left out; there are three that a writer knows.</summary>
    public const int BundleSentences = 32;

    /// <summary>Minute rows shown of a log that is opened: as far back as the chart of a service goes.</summary>
    public static readonly TimeSpan OpenedSpan = TimeSpan.FromMinutes(MinuteRowsInMemory);

    /// <summary>Longest report document that is read, bytes. The most findings and identifiers that the analysis keeps take about 20 MB.</summary>
    public const int ReportBytes = 32 << 20;

    /// <summary>Time between two ticks of the analysis after which absence proves nothing, because we ourselves were not there.</summary>
    public static readonly TimeSpan AgentLate = TimeSpan.FromSeconds(3);

    /// <summary>By so much the wall clock must have left the line before labels follow it: what a network time service slews in a day stays below, and a second's error misleads nobody.</summary>
    public static readonly TimeSpan ClockSet = TimeSpan.FromSeconds(1);

    /// <summary>How long the analysis waits for traffic before it looks at the clock. Short enough for a tick a second.</summary>
    public static readonly TimeSpan SourcePatience = TimeSpan.FromMilliseconds(200);

    /// <summary>Pause before a failed part (log, page) is tried again: long enough not to fill the journal.</summary>
    public static readonly TimeSpan RetryPart = TimeSpan.FromSeconds(60);

    /// <summary>How long it is shown that frames could not be kept, from the last time on: long enough for somebody to see it who looks now and then.</summary>
    public static readonly TimeSpan FramesTroubleShown = TimeSpan.FromMinutes(10);

    /// <summary>How long a bundle waits for the log; its thread looks once a second, and a card that stalls for longer stalls for minutes.</summary>
    public static readonly TimeSpan LogAnswer = TimeSpan.FromSeconds(20);

    /// <summary>How long a page waits for the log before it shows what is in memory: a person waits no longer, and a card that stalls for longer stalls for minutes.</summary>
    public static readonly TimeSpan PageAnswer = TimeSpan.FromSeconds(5);

    /// <summary>How long the end of the service waits for the log; systemd waits 90 s by default.</summary>
    public static readonly TimeSpan LogFarewell = TimeSpan.FromSeconds(10);

    /// <summary>Addresses that the page listens on beyond loopback; a board has two or three.</summary>
    public const int ListenAddresses = 16;

    /// <summary>So long before a certificate ends it is told: those that are renewed by programs last 90 days and are renewed 30 days before; common practice, no source.</summary>
    public static readonly TimeSpan CertificateWarning = TimeSpan.FromDays(30);

    /// <summary>Names that are tried where others have them: NAME, NAME-2 and so on. A network with as many boards of one name was made by copying cards.</summary>
    public const int AnnouncedNames = 32;

    /// <summary>Shortest passcode that is taken, characters. Guessing is slowed to some thousands of tries a day, so what must not happen is that it stands among the commonest.</summary>
    public const int ShortestPasscode = 12;

    /// <summary>Longest passcode, characters: beyond, a request is a burden and no sentence that anybody types.</summary>
    public const int LongestPasscode = 128;

    /// <summary>Longest file of the passcode that is read, bytes; ours has 250.</summary>
    public const int PasscodeFileBytes = 4096;

    /// <summary>Sessions at once; with one more, the one that was used longest ago ends. A site has a handful of people with two devices each.</summary>
    public const int Sessions = 16;

    /// <summary>Addresses whose wrong passcodes are remembered one by one; one more, and the one longest ago is forgotten. The limit for all of them together stays.</summary>
    public const int GuessingAddresses = 256;

    /// <summary>Addresses that signed in and are remembered as known while others guess.</summary>
    public const int KnownAddresses = 32;

    /// <summary>Sign-ins that wait for the one that is being checked; each takes a second or three of one core.</summary>
    public const int WaitingSignIns = 4;

    /// <summary>Connections on loopback at once: a browser opens six, and commands come by it too.</summary>
    public const int LoopbackConnections = 32;

    /// <summary>Connections from other devices at once, about 20 KB each: a dozen browsers with six each, and the same again for who may not come in.</summary>
    public const int DistantConnections = 160;

    /// <summary>Connections from one other device at once: four browser windows of six, and their live pages.</summary>
    public const int ConnectionsPerAddress = 32;

    /// <summary>Readers of a live stream at once on loopback, and from other devices; each is written to once a second.</summary>
    public const int LoopbackStreams = 8;

    /// <summary>See <see cref="LoopbackStreams"/>.</summary>
    public const int DistantStreams = 16;

    /// <summary>Live streams of one device at once: tabs that somebody forgot. A browser itself allows six connections to one place.</summary>
    public const int StreamsPerAddress = 4;

    /// <summary>When whoever found no place in a live stream may try again.</summary>
    public static readonly TimeSpan StreamRetry = TimeSpan.FromSeconds(30);

    /// <summary>A session that nobody uses ends: a phone that was put into a pocket. A stream that goes on isn't use.</summary>
    public static readonly TimeSpan SessionIdle = TimeSpan.FromHours(2);

    /// <summary>Every session ends so long after it began: a working day.</summary>
    public static readonly TimeSpan SessionLength = TimeSpan.FromHours(12);

    /// <summary>How often it is looked whether other devices may be served: whether there is a passcode, and the addresses.</summary>
    public static readonly TimeSpan AccessLook = TimeSpan.FromSeconds(2);

    /// <summary>How long the page waits for answers that are under way when it ends.</summary>
    public static readonly TimeSpan PageFarewell = TimeSpan.FromSeconds(2);

    /// <summary>How long a request may take to say what it wants.</summary>
    public static readonly TimeSpan RequestHeaders = TimeSpan.FromSeconds(10);

    /// <summary>How long a TLS connection may take to be agreed on.</summary>
    public static readonly TimeSpan TlsHandshake = TimeSpan.FromSeconds(10);

    /// <summary>How long a connection may be silent between two requests.</summary>
    public static readonly TimeSpan ConnectionIdle = TimeSpan.FromSeconds(60);

    /// <summary>Slowest that a body may come, bytes a second: a form of 4 KB is there in seven seconds.</summary>
    public const double RequestBytesPerSecond = 1024;

    /// <summary>Slowest that an answer may be taken, bytes a second: the worst of a radio link. Below, somebody holds a place (and the only bundle) on purpose.</summary>
    public const double AnswerBytesPerSecond = 2048;

    /// <summary>How long both may be slower than that.</summary>
    public static readonly TimeSpan RateGrace = TimeSpan.FromSeconds(5);

    /// <summary>How long a browser may take to print a record: twenty sheets are a second on a desk, and a small board is twenty times slower.</summary>
    public static readonly TimeSpan Printing = TimeSpan.FromSeconds(90);
}
