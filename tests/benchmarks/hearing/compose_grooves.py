"""Grooves of popular music, as text.

A genre begins with a line ``@name metre tempo steps-per-beat word=value ...``; the lines after it are parts. A part
is a name (with the instruments it may be played by in brackets) and its patterns, alternatives parted by ``|``; spaces
are for the eye. One sign is one step: ``x`` a stroke, ``X`` an accent, ``o`` soft, ``g`` a ghost, ``?`` perhaps, ``.``
none, ``-`` the note before goes on. In a bass ``1 3 5 6 7 8`` are degrees of the chord, ``4`` the fifth below, ``c`` a
chromatic step to the next root; in an arpeggio they count chord notes upwards. All patterns are ours, in the manner
of each dance as it is commonly played.
"""

POPULAR = """
@rock 4 95-160 4 chords=pop form=song human=1
kick  x.......x....... | x.......x.x..... | x..x......x..... | x.x.......x....x
snare ....X.......X... | ....x.......X..g
hat   x.x.x.x.x.x.x.x. | x...x...x...x... | xoxoxoxoxoxoxoxo
ride  x...x...x...x...
bass(ebass,pick) 1.1.1.1.1.1.1.1. | 1-....1-1-....5- | 1--1--1-1--1--5-
comp(drive,clean,steel) x---x-x-x---x-x- | x------x-------- | x.x.x.x.x.x.x.x. | x-x-..x-x-x-..x-
lead(drive,voice,sax,organ) medium

@pop 4 84-128 4 chords=pop form=song human=1
kick  x.......x....... | x......xx....... | x.....x...x..... | x...x...x...x...
snare ....x.......x...
clap  ....x.......x... | ............x...
hat   x.x.x.x.x.x.x.x. | ..x...x...x...x. | x.xxx.x.x.xxx.x.
bass(ebass,synbass) 1-----1-1-----1- | 1--1--1-1--1--1- | 1---....1-..5-..
comp(piano,epiano,clean,strings) x-------x------- | x---x---x---x--- | x--x--x-x--x--x- | x---------------
arp(piano,clean,nylon) 1.2.3.2.1.2.3.2. | 1-3-2-3-1-3-2-3-
pad(strings,pad,choir) x---------------
lead(voice,synlead,flute,sax) medium

@ballad 4 56-80 4 chords=pop form=song human=1
kick  x.......x....... | x.........x.....
rim   ....x.......x...
snare ........x....... | ....x.......x...
hat   x.x.x.x.x.x.x.x. | x...x...x...x...
bass(ebass,fretless) 1-------5------- | 1--------------- | 1-----5-1-------
comp(piano,epiano,steel) x---x---x---x--- | x-------x-------
arp(piano,nylon,harp) 1.3.4.3.5.4.3.2. | 1.2.3.4.5.4.3.2.
pad(strings,choir,pad) x---------------
lead(voice,violin,sax,flute) sparse

@funk 4 88-116 4 chords=vamp form=song human=1 swing=16:0.5-0.58 push=1
kick  x..x......x..x.. | x.x....x..x..... | x.....x..xx.....
snare ....X..g.g..X..g | ....X.......X.g. | ....X..g....X...
hat   xoxoxoxoxoxoxoxo | x.x.x.xxx.x.x.x. | x.xxx.xxx.xxx.xx
bass(slap,ebass) 1..8..1...7.8... | 1...1.8..1..5.c. | 1..1...8..7..5.c
comp(clav,clean,organ) .xx..x.x..x..x.. | ..x..x....x.xx.. | x..x..x...x..x..
arp(brass) x....... | ......x..x...... | ........x.x.....
lead(sax,brass,organ) busy

@disco 4 110-128 4 chords=minor form=song
kick  x...x...x...x...
snare ....x.......x...
open  ..x...x...x...x.
hat   x.xxx.xxx.xxx.xx | x.x.x.x.x.x.x.x.
tamb  ..x...x...x...x.
bass(ebass,slap) 1.8.1.8.1.8.1.8. | 1..1..8.1..1.5.8
comp(clean,strings,epiano) ..x...x...x...x. | x.xx.xx.x.xx.xx.
pad(strings) x---------------
lead(strings,voice,brass) medium

@house 4 118-130 4 chords=minor form=dance
kick  X...X...X...X...
clap  ....x.......x...
open  ..x...x...x...x.
hat   oxoxoxoxoxoxoxox | ................
shaker xoxoxoxoxoxoxoxo
bass(synbass) ..1...1...1...1. | ..1..11...1..15. | 1..1..1...1..1..
comp(piano,organ,synstr) x..x..x...x..x.. | ..x...x...x..x..
pad(pad,synstr) x---------------
lead(synlead,voice) sparse

@trance 4 130-142 4 chords=minor form=dance
kick  X...X...X...X...
clap  ....x.......x...
open  ..x...x...x...x.
bass(synbass) ..1...1...1...1. | .111.111.111.111
arp(synlead,synstr) 1234321234543212 | 1.31.31.1.31.31.
pad(pad,choir) x---------------
lead(synlead) medium

@techno 4 125-148 4 chords=drone form=dance
kick  X...X...X...X...
hat   ..x...x...x...x. | ..x...x...x..xx.
rim   ...x..x....x..x. | .....x....x.....
tom1  ..........x..x.. | ................
bass(synbass) ..1...1...1...1. | .1.1.1.1.1.1.1.1 | ...1..1....1..1.
comp(synstr,synlead) ...x..x......... | ..........x.....

@reggae 4 66-92 4 chords=folk form=song human=1 swing=16:0.5-0.62
kick  ........x....... | x.......x.......
rim   ........x.......
snare ........X.......
hat   x.x.x.x.x.x.x.x. | ..x...x...x...x.
bass(ebass,fretless) 1..1..5...3-5-.. | ....1-1-..5-3-1- | 1-....5-1-......
comp(organ,clean,piano) ....x.......x... | ....x.x.....x.x.
lead(voice,organ,trombone) sparse

@ska 4 120-170 2 chords=folk form=song human=1
kick  x...x... | x.x.x.x. | ....x...
snare ..x...x. | ....x...
hat   xxxxxxxx | x.x.x.x.
bass(ebass) 1-3-5-3- | 1-3-5-6- | 1.1.5.5.
comp(clean,organ) .x.x.x.x
lead(brass,trombone,sax,trumpet) medium

@swing 4 110-220 2 chords=jazz form=jazz human=1 swing=8:0.6-0.68
ride  x.xxx.xx
pedal ..x...x.
kick  o...o... | ........ | o.o.o.o.
snare .?...?.. | ...?..?.
bass(abass) 1.3.5.c. | 1.5.8.c. | 1.3.5.6. | 8.7.5.c.
comp(piano,jazzg) x..x.... | ...x...x | x.x.x.x. | .x....x.
lead(sax,trumpet,clarinet,vibes,piano) busy

@big_band 4 120-200 2 chords=jazz form=jazz human=1 swing=8:0.58-0.66 push=1
ride  x.xxx.xx
pedal ..x...x.
kick  o.o.o.o. | x...x...
snare ..?....x | .......X
bass(abass) 1.3.5.c. | 1.2.3.5. | 8.7.6.5.
comp(brass) X......X | ...X.... | X..X.... | .....X.X | ..X....X
arp(piano,jazzg) ........
pad(sax) x------- | ........
lead(sax,brass,mutetp,clarinet) busy

@jazz_brushes 4 60-100 4 chords=jazz form=jazz human=1 swing=8:0.6-0.68
ride  o...x.o.o...x.o.
pedal ....x.......x...
bass(abass) 1-------5------- | 1---3---5---c---
comp(piano,jazzg,vibes) x-------..x----- | ..x-----........
lead(sax,mutetp,flute,piano) medium

@shuffle_blues 4 90-140 3 chords=blues form=blues human=1
kick  x.....x..... | x..x..x..x.. | x....xx.....
snare ...X.....X..
hat   x.xx.xx.xx.x | x..x..x..x..
ride  x.xx.xx.xx.x
bass(ebass,abass) 1..3..5..6.. | 1.11.15.56.6 | 1..1..5..5..
comp(drive,piano,clean) x.xx.xx.xx.x | ..x.....x...
lead(drive,harmonica,sax,piano) medium

@slow_blues_12_8 4 48-72 3 chords=blues form=blues human=1
kick  x.....x..... | x....xx.....
snare ...X.....X..
hat   xxxxxxxxxxxx
bass(ebass) 1-.1-.5-.6-. | 1----.5----c
comp(piano,organ,clean) xxxxxxxxxxxx | x-----x-----
lead(drive,harmonica,sax) medium

@doo_wop_12_8 4 60-84 3 chords=pop form=song human=1
kick  x.....x.....
snare ...x.....x..
hat   xxxxxxxxxxxx
bass(ebass,abass) 1--1--5--5-- | 1-----3--5--
comp(piano,clean) xxxxxxxxxxxx
pad(ooh) x-----------
lead(voice,sax) medium

@hip_hop 4 76-102 4 chords=vamp form=song swing=16:0.5-0.62
kick  x......x..x..... | x..x....x.x..... | x.....xx..x....x
snare ....X.......X... | ....X.......X..g
hat   x.x.x.x.x.x.x.x. | x.x.x.xxx.x.x.x.
bass(synbass,ebass) 1------1--1----- | 1--1----1-5-----
comp(epiano,piano,strings) x--------------- | ..x...x...x...x. | x--x--x---------
lead(flute,synlead,vibes) sparse

@trap 4 60-78 8 chords=minor form=song
kick  x.............x.....x.......x... | x.....x.............x........... | x.......................x..x....
snare ........X...............X.......
clap  ........x...............x.......
hat   x.x.x.x.x.x.x.x.x.x.x.x.x.xxxxxx | x...x...x.x.x.x.x...x...xxxx.x.x | x.x.xxxxx.x.x.x.x.x.x.x.x.x.x...
bass(synbass) 1-------------1-....1-----5-.... | 1-------------------1-----------
comp(pad,epiano,bells) x-------------------------------
arp(bells,musicbox,synlead) 1...3...2...4...3...2...1....... | 1.....2.....3.....2.....1.......
lead(synlead,flute) sparse

@half_time 4 120-170 4 chords=minor form=song human=1
kick  x.........x..... | x.....x.........
snare ........X.......
hat   x...x...x...x... | x.x.x.x.x.x.x.x.
bass(ebass,synbass) 1---1---1---1--- | 1-------1-----1-
comp(drive,clean,synstr) x------x-------- | x---------------
pad(pad,strings) x---------------
lead(voice,synlead,drive) sparse

@double_time 4 70-100 4 chords=pop form=song human=1
kick  x...x...x...x... | x..x..x.x..x..x.
snare ..X...X...X...X.
hat   xxxxxxxxxxxxxxxx | x.x.x.x.x.x.x.x.
bass(ebass,pick) 1111111111111111 | 1.1.1.1.1.1.5.5.
comp(drive,clean) x---x---x---x--- | x.x.x.x.x.x.x.x.
lead(voice,drive) medium

@punk 4 150-210 2 chords=folk form=song human=1
kick  x...x.x. | x..xx... | x.x.x.x.
snare ..X...X. | .X.X.X.X
hat   xxxxxxxx | x.x.x.x.
bass(pick) 11111111
comp(drive) xxxxxxxx | x---x-x-
lead(drive,voice) medium

@metal 4 100-190 4 chords=minor form=song human=1
kick  xxxxxxxxxxxxxxxx | x.xxx.xxx.xxx.xx | xx..xx..xx..xx.. | x..x..x..x..x.x.
snare ....X.......X... | ........X.......
ride  x...x...x...x... | x.x.x.x.x.x.x.x.
hat   x...x...x...x...
bass(pick) 1.111.111.111.11 | 1..1..1..1..1.1.
comp(drive) x.xxx.xxx.xxx.xx | x..x..x..x..x.x. | x-------x-------
lead(drive) busy

@drum_n_bass 4 160-178 4 chords=minor form=dance
kick  x.........x..... | x..x......x.....
snare ....X.......X... | ....X..g.g..X..g
hat   x.x.x.x.x.x.x.x. | xoxoxoxoxoxoxoxo
bass(synbass) 1-----------1-5- | 1---..1-..5----- | 1---------------
pad(pad,synstr) x---------------
arp(epiano,bells) 1.....2.....3... | ................
lead(synlead,voice) sparse

@breakbeat 4 120-140 4 chords=vamp form=dance
kick  x.x.......xx.... | x..x..x...x.....
snare ....X..g.g..X... | ....X..x....X..x
hat   x.x.x.x.x.x.x.x.
bass(synbass,ebass) 1..1..8...1..5.. | 1-....1-..7-....
comp(organ,epiano,synstr) ..x..x....x..... | x-------........
lead(synlead) medium

@soul 4 96-128 4 chords=pop form=song human=1
kick  x.....x.x.....x. | x...x...x...x...
snare X...X...X...X... | ....X.......X...
hat   x.x.x.x.x.x.x.x.
tamb  ....x.......x... | x.x.x.x.x.x.x.x.
bass(ebass) 1..1..3.5..5..6. | 1-....1.3.5-....
comp(piano,organ,clean) x...x...x...x... | ....x.......x...
arp(brass) x..x..x......... | ................
lead(voice,sax,brass) medium

@rumba_rock 4 112-140 2 chords=folk form=song human=1
kick  x..xx... | x..x..x.
snare ..x...x.
shaker xxxxxxxx
conga x.xx.xxx | x..x..xx
bass(ebass) 1..5..8. | 1--1--5-
comp(nylon,clean) x.xx.xx. | xx.xx.x.
lead(voice,nylon,trumpet) medium

@ambient_pulse 4 60-110 4 chords=drone form=dance
kick  x...............| o...o...o...o... | ................
hat   ................ | ..o...o...o...o.
arp(epiano,bells,pluck,kalimba) 1-2-3-4-3-2-1-2- | 1---3---2---4--- | 1..2..3..4..3.2.
pad(pad,choir,synstr) x---------------
lead(flute,synlead,pad) sparse

@rock_7_8 7 140-200 2 chords=minor form=song human=1
kick  x...x...x..... | x.....x...x...
snare ..x...x...x... | ....X.......X.
hat   xxxxxxxxxxxxxx | x.x.x.x.x.x.x.
bass(ebass,pick) 1.1.5.1.8.1.5. | 1---1---1-5-8-
comp(drive,organ) x---x---x----- | x-x-..x-x-..x-
lead(organ,drive,violin) medium

@cool_five 5 110-180 2 chords=vamp form=jazz human=1 swing=8:0.5-0.66
ride  x..xx.x.x. | x.xxx.x.xx
pedal ..x.....x.
kick  x.....x... | x..x..x...
snare ...?..X... | ....x...x.
bass(abass,ebass) 1----51-5- | 1--5--1-5-
comp(piano,epiano) x--x--x-x- | x..x..x.x.
lead(sax,flute,piano) medium
"""
