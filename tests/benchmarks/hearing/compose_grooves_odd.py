"""Grooves in five and seven, whose bars go in groups: accents, bass and chords say which. Signs as in
``compose_grooves``; all patterns are ours."""

ODD = """
@five_32_rock 5 110-190 2 chords=minor form=song human=1
kick  x.....x... | x..x..x... | x.....x.x.
snare ....x...x. | ...x....x. | ..x.....x.
hat   xxxxxxxxxx | x.x.x.x.x.
bass(ebass,pick) 1.1.1.5.5. | 1-----5--- | 1.1.8.1.5.
comp(drive,clean,organ) x-----x--- | x-x-x-x-x- | x..x..x.x.
lead(drive,voice,organ) medium

@five_23_rock 5 110-190 2 chords=minor form=song human=1
kick  x...x..... | x...x..x.. | x..xx.....
snare ..x.....x. | ......x... | ..x...x.x.
hat   xxxxxxxxxx | x.x.x.x.x.
bass(ebass,synbass) 1---5----- | 1.1.5.5.1. | 1---1---5-
comp(clean,piano,steel) x---x----- | x.x.x.x.x. | x---x---x-
lead(synlead,voice,flute) medium

@five_slow 5 76-120 4 chords=pop form=song human=1
kick  x...........x....... | x.....x.....x.......
snare ....x...........x... | ........x.......x...
hat   x.x.x.x.x.x.x.x.x.x. | x...x...x...x...x...
bass(fretless,ebass) 1-----------5------- | 1-------1---5-------
comp(piano,epiano) x-----------x------- | x---x---x---x---x---
arp(nylon,piano) 1.2.3.4.3.2.1.3.5.3.
pad(strings,pad) x-------------------
lead(voice,sax,violin) sparse

@five_electro 5 100-150 4 chords=minor form=dance
kick  x...x...x...x...x... | x.......x...x.......
clap  ........x.......x... | ............x.......
hat   ..x...x...x...x...x. | x.xxx.xxx.xxx.xxx.xx
bass(synbass) 1.1.1.1.1.1.5.5.5.5. | ..1...1...1...5...5.
comp(synlead,pad) x-----------x------- | x.x...x.....x.x.....
lead(synlead,clean) medium

@five_folk 5 96-170 2 chords=folk form=folk human=2
bass(abass,cello) 1-----5--- | 1---5-----
comp(nylon,steel,accordion) ..x.x...x. | ..x...x.x. | x.x.x.x.x.
tamb  x.....x... | x...x.....
lead(fiddle,flute,clarinet) medium

@seven_223 7 150-240 2 chords=minor form=folk human=1
kick  x...x...x..... | x...x...x...x.
snare ..x...x...x.x. | ............x.
tamb  x...x...x..... | x.x.x.x.x.x.x.
bass(abass,ebass) 1---5---1----- | 1.1.5.5.1.1.5.
comp(accordion,nylon,clean) ..x...x...x.x. | x---x---x-----
lead(clarinet,accordion,fiddle) running

@seven_322 7 150-240 2 chords=minor form=folk human=1
kick  x.....x...x... | x.....x.....x.
snare ..x.x...x...x. | ....x...x...x.
tamb  x.....x...x...
bass(abass,tuba) 1-----5---1--- | 1.1.1.5.5.1.1.
comp(accordion,piano) ..x.x...x...x. | x-----x---x---
lead(fiddle,clarinet,flute) running

@seven_43 7 110-200 2 chords=minor form=song human=1
kick  x.......x..... | x...x...x..... | x..x....x..x..
snare ....x.......x. | ....x.....x...
hat   xxxxxxxxxxxxxx | x.x.x.x.x.x.x.
bass(ebass,pick) 1.1.1.1.5.5.5. | 1-------5-----
comp(drive,organ,clean) x-------x----- | x-x-x-x-x-x-x- | x..x....x..x..
lead(drive,voice,organ) medium

@seven_34 7 110-200 2 chords=pop form=song human=1
kick  x.....x....... | x.....x...x... | x..x..x.......
snare ....x.....x... | ..x.......x...
hat   xxxxxxxxxxxxxx | x.x.x.x.x.x.x.
bass(ebass,synbass) 1-----5------- | 1.1.1.8.8.8.8.
comp(piano,clean) x-----x------- | x.x.x.x.x.x.x.
lead(synlead,voice,sax) medium

@seven_electro 7 100-150 4 chords=minor form=dance
kick  x...x...x...x...x...x...x... | x.......x.......x...........
clap  ....x.......x...........x...
hat   ..x...x...x...x...x...x...x.
bass(synbass) 1.1.1.1.1.1.1.1.5.5.5.5.5.5. | 1---------------5-----------
comp(pad,synlead) x---------------x----------- | x.x...x.x.x...x.x.x...x.x...
lead(synlead) medium

@seven_quiet 7 84-150 2 chords=folk form=folk human=2
bass(cello,abass) 1-------5----- | 1-----5-------
arp(harp,nylon,piano) 1-2-3-4-1-3-4- | 1-3-5-1-3-5-4-
lead(flute,voice) sparse
"""
