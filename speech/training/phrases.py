"""The spoken phrases, and everything else that is said near them.

Every list here is written by hand for this project. LABELS, in this order, are
the classes of the network; CLASSES adds the rest word (OTHER) and the single
words for which real recordings exist, so that a real voice never stands for
"other" alone. ears.bin carries the names, so the program reads its phrases
from there.
"""

COMMANDS = """next|previous step|repeat|torque|tool list|part list|caution|where am i|hold the job|carry on|take a note|end of note
undo that|finish job|stop listening|start listening|louder|quieter|speak slower|speak faster|what can i say|stop|help|i was away
leaving it for tonight|other job|joining in|stepping out|what's left|yes|no""".replace("\n", "|").split("|")

REASONS = "parts|approval|customer|phone|lift busy|tool busy|helping|break|road test|end of shift|last word".split("|")

NUMBERS = "zero|oh|one|two|three|four|five|six|seven|eight|nine|point|minus".split("|")

# Later than the first training: head.py adds them to a network that knows the others.
LATER = """how long left|start timer|reading|also found|tools back|stands set|engine held|pressure off|ground off|power down|spring held|all clear
pedal firm|wheels tight|new step|comes off|goes on|hand it over|all sent|lift locked""".replace("\n", "|").split("|")

LABELS = COMMANDS + REASONS + NUMBERS + LATER
OTHER = "~other"

# Words with real recordings that are no phrase of ours: classes of their own in
# training, counted as "other" afterwards.
SPARE = "bed bird cat dog down happy house left marvin off on right sheila tree up wow".split()
CLASSES = LABELS + [OTHER] + ["~" + w for w in SPARE]

# Digit head: blank, then NUMBERS.
DIGITS = ["_"] + NUMBERS

# How a label is written for a synthesiser, where its own letters mislead one.
SPOKEN = {"oh": ["oh", "owe"], "i was away": ["I was away"], "where am i": ["where am I"], "what can i say": ["what can I say"]}

HALVES = """previous|step|tool|tools|list|part|where|where am|am i|hold|hold the|the job|carry|take|take a|note|a note|end|end of|of note
undo|that|finish|job|listening|speak|slower|faster|what can|can i say|i say|what|say|i was|was away|away|leaving|leaving it|for tonight
it for tonight|tonight|other|joining|in|stepping|out|what's|lift|busy|road|test|shift|of shift|last|word|start|repeating|approve|custom
how long|long left|timer|also|found|tools back on|stands|set|engine|held|pressure|ground|power|spring|all|clear|pedal|firm|wheels|tight|new|comes|goes
hand it|it over|hand over|hand|sent|locked""".replace("\n", "|").split("|")

# One sound away at most words, never none: a homophone would only teach doubt.
ALIKE = """text|nest|vest|neck|next one|next time|rest|west|weeks|week|now|snow|go|stuff|top|hope|shop|step|stock|stomp
complete|heat|talk|fork|stork|took|work|talking|torch|cork|help me|held|health|yet|guess|less|mess|chess|yesterday
crossing|cautious|auction|portion|corner|option|location|cloud|quiet|choir|wider|writer|fighter|tighter
party|partly|finish|finished|Finnish|jog|jobs|chop|undo it|do that
under|hold the door|hold on|hold it|hold the line|carry it|carry one|Carol|carrion|carry off|take note|make a note|take a look
end of the road|stopping|stop it|stopped|start|started|start it|starting|listen|listening post|start the engine|stop the engine|start loosening
speak up|speaker|slow|slowly|fast|fasten|fastener|where is it|where are you|where am|there am I|wear a mask|why am I|what can I do|what did I say|what do you say
I was asleep|I was late|he was away|I went away|always away|leaving it|leaving now|leave it for tonight|leaving for the night|for tonight|evening
brother|other|the other one|joining|join in|coming in|going in|stepping in|stepping stone
what's that|what's next|what's up|what's wrong|watts|left|lift|lift it|lift easy|tool box|busy|dizzy|part|carts|charts|park|hearts
approve|arrival|proposal|customers|custom|cluster|muster|phones|fun|alone|helping hand|bake|rake|brick|baking
road|rode|road rest|end of the shift|last one|password|last week
euro|zeros|when|what one|do|fork|fire|live|file|sick|seventh|heaven|eleven|seventy|eighty|hate|late|wait
leading|breeding|read it|ready|heating|sheeting|meeting|reading it|sunset|stand set|stands up|engine oil|engine bay|pressure of|fresh air off|ground of|round off|brown coat
power town|powder down|tower down|power drill|string held|springs|spring out|all cleared|all clean|all here|paddle firm|pedal form|petal|metal firm|wheels right|wheel tight|wheels light
blue step|knew it|new stuff|two steps|comes of|come off|comes on|comes back|goes in|goes off|go on|ghost on|grows on|how long is it|how long ago|how long for|so long|start time|start the timer
stop timer|egg timer|also fine|also sound|all sound|new found|tool bag|tools bag|tool back|turn back|night|line|nineteen|ninety|points|paint|pint|anoint|minor|minas|oat|oil|okay|ten|eleven|twelve|thirteen|twenty|thirty|hundred
hand me over|hand me that|hand it back|hand it up|hand it to me|hand that over|handed over|hang it over|turn it over|start it over|pull it over|roll over|handy|handle it
all set|all send|I'll send it|all spent|all went|all done|all in|all said|all tent|call sent|was sent|not sent|he sent|all wet|all second|percent
lift lock|lift unlocked|unlocked|lift blocked|lift rocked|lift knocked|lift stands|lift up|lift lot|lift low|lift looks|left locked|list locked|lift lamp|door locked|locker|locking""".replace("\n", "|").split("|")

WORDS = """the a and to of in it is on at with for from up down over under again bolt nut washer gasket seal hose clamp filter pump belt pulley bearing spring
piston valve cylinder head cover engine gearbox clutch shaft axle wheel tyre brake pad disc caliper wrench socket ratchet hammer pliers screwdriver spanner
bench lamp lift jack stand oil grease coolant water fuel air wire fuse battery switch sensor lamp plug coil starter alternator radiator fan heater
morning evening today tomorrow coffee lunch boss radio window door floor table chair paper pencil phone number money street house garden car truck
bring give get put pull push turn loosen tighten remove fit check clean wipe drain fill measure cut drill press tap lower raise open close move wait look
good bad big small hot cold new old hard soft long short left right front rear upper lower inner outer first second third half more less
please thanks sorry maybe really always never almost because before after between without why who how when which someone nothing everything
people father mother sister brother friend doctor teacher market music picture story question answer country river mountain summer winter
red blue green yellow black white silver copper rubber metal plastic glass wood stone paint dust rust crack leak noise smell smoke fire
happy angry tired hungry ready careful quick slow loud quiet heavy light empty full wrong true early late yes sir no way okay alright hello goodbye""".split()

SENTENCES = """Can you hand me the ten millimetre socket?|I think the pump has been leaking since last week.|We should order another gasket before lunch.|He said the car would be ready by four.
The next one goes in from below.|Next week we have three clutches to do.|Stop the engine and pull the key out.|No, that one is from the other car.|Yes, I told him yesterday.|Help me with this wheel, will you?
Did you torque that down already?|The torque wrench is in the second drawer.|Let me finish this job first.|Hold the light a bit higher.|Take a note of the mileage.|Where am I supposed to put this?
That was a road test and a half.|The customer wants it back tonight.|We need approval for the extra work.|The parts came in this morning.|Is the lift busy this afternoon?|What's left on that one?
I was away for two weeks in the summer.|Leave it for tonight and go home.|Start with the front left wheel.|Repeat that, I did not hear you.|There is no more oil in the can.|It was one of those bolts that never come loose.
Carry on like that and you will strip it.|The news at one o'clock with the weather.|Traffic is slow on the ring road this evening.|And now the latest from the stadium.|It will rain in the north and stay dry in the south.|Here is another one from the eighties.
She opened the letter slowly and read it twice.|The old man walked down to the river every morning.|They had not seen each other for many years.|It is a truth that everybody seems to know.|In the middle of the night the wind began to blow.|He put the book back on the shelf and sighed.
Call me back when you have a minute.|What can I say, it was cheap.|Speak slower, I cannot follow.|Turn the radio down, please.|Who left the door open again?|I will be stepping out for a coffee.|Put the tool list on the bench.|The caution label has come off.|The last word was his, as always.|Do not undo that bolt yet.
Two of them are five and one is eight.|The house number is seven three nine.|Minus four degrees this morning.|At this point I would just replace it.|Give me a break, it is only nine.|Phone him and ask about the other job.|Previous step was fine, this one is not.|I will join in after lunch.|Louder music does not make the work go faster.|End of shift is at five, end of story.
First loosen the upper bolts, then swing the bracket out of the way.|Remove the belt and inspect it for cracks.|Tighten the bolts in a cross pattern.|Drain the coolant into a clean pan.|Fit the new seal with the lip facing inward.|Apply a thin film of oil to the threads.|Disconnect the battery before you start.|Mark the position of the pulley.|Check the level with the engine cold.|Clean the mating faces and dry them.""".replace("\n", "|").split("|")

# Held out of training. "held" voices are looked at while thresholds are chosen; "final" ones judge once, at the end.
ESPEAK_HELD_ACCENT, ESPEAK_FINAL_ACCENT = "en-gb-scotland", "en-gb-x-gbcwmd"
ESPEAK_HELD_VARIANTS, ESPEAK_FINAL_VARIANTS = ["f3", "m5"], ["f5", "m8", "grandpa"]


def voice_split(accent, variant):
    if accent == ESPEAK_FINAL_ACCENT or variant in ESPEAK_FINAL_VARIANTS:
        return "final"
    if accent == ESPEAK_HELD_ACCENT or variant in ESPEAK_HELD_VARIANTS:
        return "held"
    return "train"


def spoken_text(label):
    """What a label stands for in words; None where it does not say."""
    if label[0] == "#":
        return label[1:]
    if label == OTHER or label[0] == "=":
        return None
    return label.lstrip("~")
