"""Grooves of dances, folk, church and concert music, as text; signs as in ``compose_grooves``."""

WORLD = """
@bossa 4 110-150 2 chords=jazz form=jazz human=1
kick  x..xx..x
rim   x..x..x...x..x.. | ..x..x..x.x..x..
hat   xxxxxxxx
bass(abass,nylon) 1--54--5 | 1--5----
comp(nylon,piano) x..x..x...x..x.. | .xx..x.x | x.x..x.x
lead(flute,sax,nylon,voice) medium

@samba 2 90-124 4 chords=jazz form=song human=1
kick  x..xx..x
surdo o...X...
shaker xoxxxoxx
tamb  x.xx.xx. | x..x..x..xx.x.x.
snare xggxgxgx | ggxgggxx
bass(ebass,abass) 1..54..5 | 1--.5-..
comp(nylon,piano) x.x.xx.x.x.xx.x. | x..x..x.
lead(flute,whistle,brass) busy

@son_clave 4 150-200 2 chords=latin form=song human=1
clave x..x..x...x.x... | ..x.x...x..x..x.
conga x.xx..xx | ..x...xx
cowbell x.xxx.xx | x...x...
guiro x-xxx-xx
bass(abass,ebass) ...5..8- | 1..5..8-
arp(piano) 1.32.3.2.3.2.3.2 | x.xx.x.x.x.x.x.x
lead(trumpet,voice,flute) medium

@rumba 4 96-116 2 chords=latin form=song human=1
clave x..x...x..x.x...
conga ..xx.xxx | x.xx.xx.
shaker xxxxxxxx
bass(abass) 1--..5-. | 1.--5-8-
comp(nylon,piano) .xx.xx.x | x..x..x.
lead(trumpet,nylon,violin) medium

@cha_cha 4 108-126 2 chords=latin form=song human=1
cowbell x.x.x.x.
guiro x-xxx-xx
conga ......xx
kick  x...x...
bass(abass,ebass) 1..5..8. | 1-..5-1-
comp(piano) ..x.x.x. | .x.x.x.x
lead(flute,trumpet,brass) medium

@tango 4 112-132 2 chords=minor form=folk human=2
bass(abass,cello) 1.5.1.5. | 1..51.5.
comp(accordion,piano,strings) x.x.x.x. | x..xx.x. | X.x.x.xx
lead(violin,accordion,piano) medium

@habanera 2 56-76 4 chords=minor form=folk human=2
bass(abass,cello,piano) 1..51.5. | 1-.53-5-
comp(piano,nylon) ...xx.x. | x..xx.x.
lead(violin,voice,accordion) medium

@country_train 4 100-130 4 chords=folk form=song human=1
snare ggXgggXgggXgggXg
kick  x...x...x...x...
bass(abass,ebass) 1-......5-...... | 1---....5---....
comp(steel,banjo) ....x.......x... | ..x...x...x...x.
arp(banjo,steel) 1324132413241324 | 1.32.31.1.32.31.
lead(fiddle,steel,harmonica,voice) medium

@country_two_step 4 150-200 2 chords=folk form=song human=1
kick  x...x...
snare ..x...x.
hat   x.x.x.x.
bass(abass,ebass) 1-..5-.. | 1-..4-..
comp(steel,clean) ..x...x. | ..xx..xx
lead(fiddle,voice,steel) medium

@bluegrass 2 100-140 4 chords=folk form=folk human=1
bass(abass) 1...5... | 1...4...
comp(steel) ..x...x.
arp(banjo) 14324132 | 13241324
lead(fiddle,banjo,steel) running

@polka 2 104-132 2 chords=folk form=folk human=1
kick  x.x.
snare .x.x
bass(tuba,abass) 1.5. | 1.4.
comp(accordion,piano) .x.x
lead(accordion,clarinet,trumpet) running

@march 2 104-124 4 chords=folk form=folk human=1
kick  x...x...
snare x.xxx.xx | x...x.xx | xxxxx.x.
crash x....... | ........
bass(tuba) 1...5... | 1.......
comp(horn,brass) ..x...x.
pad(brass) x-------
lead(trumpet,piccolo,brass) medium

@funeral_march 4 50-72 4 chords=minor form=folk human=1
kick  x.......x.......
snare ....x..xx...xxxx | ........x..xx...
bass(tuba,contra) 1-------5-------
comp(horn,brass,strings) x---x---x---x---
lead(horn,trumpet) sparse

@waltz_vienna 3 150-200 2 chords=folk form=folk human=2
bass(contra,tuba) 1-.... | 5-....
comp(strings,piano,horn) ..x.x.
lead(violin,strings,flute) medium

@waltz_slow 3 84-108 2 chords=jazz form=folk human=2
bass(contra,abass) 1----- | 1---5-
comp(piano,nylon,strings) ..x-x- | x-x-x-
kick  x.....
rim   ..x.x.
lead(violin,accordion,sax) sparse

@jazz_waltz 3 120-190 2 chords=jazz form=jazz human=1 swing=8:0.58-0.67
ride  x.xxx. | x..xx.
pedal ..x.x. | ...x..
kick  o..... | o....o
snare ...?.. | .....?
bass(abass) 1-3-5- | 1---c-
comp(piano,jazzg) ..x..x | x--x-- | .x.x..
lead(flute,sax,vibes) busy

@country_waltz 3 84-126 2 chords=folk form=song human=1
kick  x.....
snare ..x.x.
hat   xxxxxx | x.x.x.
bass(ebass,abass) 1----- | 1---5-
comp(steel,piano) ..x.x. | x-x-x-
lead(fiddle,voice,harmonica) sparse

@waltz_musette 3 160-210 2 chords=minor form=folk human=2
bass(abass) 1-....|1-....5-....
comp(accordion,nylon) ..x.x.
lead(accordion) running

@mazurka 3 110-150 4 chords=minor form=folk human=2
bass(contra) 1---.... .... | 1---5---8---
comp(piano,strings) ....x---x--- | ....X---x---
lead(piano,violin) medium

@minuet 3 100-132 2 chords=baroque form=folk human=1
bass(cello,harpsi) 1-3-5- | 1---5- | 1-----
comp(harpsi,strings) ..x-x- | x-----
lead(flute,oboe,violin,harpsi) medium

@jig 2 100-130 3 chords=folk form=folk human=1
bass(abass,nylon) 1--5-- | 1--1--
comp(steel,nylon,accordion) x.xx.x | x..x.. | x--x--
bodhran X.xX.x | XoxXox
lead(fiddle,flute,whistle,accordion) running

@six_eight_ballad 2 46-72 6 chords=pop form=song human=1
kick  x........... | x.........x.
snare ......x.....
hat   x.x.x.x.x.x.
bass(ebass) 1-----5----- | 1-----------
arp(clean,piano,steel) 1-2-3-4-3-2- | 1-3-2-3-4-3-
pad(strings,organ,choir) x-----------
lead(voice,sax,violin) sparse

@six_eight_slow 6 84-132 2 chords=pop form=song human=1
kick  x........... | x.........x.
snare ......x.....
hat   x.x.x.x.x.x.
bass(ebass,cello) 1-----5----- | 1-----------
arp(piano,harp,nylon) 1-2-3-4-3-2- | 1-3-5-3-2-3-
pad(strings,choir) x-----------
lead(voice,flute,violin) sparse

@afro_12_8 4 90-126 3 chords=drone form=song human=1
bell  x.x.xx.x.x.x
kick  x..x..x..x.. | x.....x.....
shaker xoxxoxxoxxox
conga x.x.xx.x.xx. | ..xx..x.xx..
bass(ebass) 1..5.1..8.5. | 1-....5-.1..
comp(clean,kalimba) .xx.xx.xx.xx | x.x.x.x.x.x.
lead(voice,sax,kalimba) medium

@tarantella 2 120-150 3 chords=minor form=folk human=1
tamb  X.xX.x | xxxxxx
bass(contra,abass) 1--5--
comp(nylon,accordion) x.xx.x | ..x..x
lead(clarinet,violin,accordion) running

@siciliana 4 44-60 3 chords=baroque form=folk human=2
bass(cello,contra) 1-----5----- | 1--1--5--1--
comp(strings,harpsi) x-----x----- | x-xx-xx-xx-x
lead(oboe,flute,violin) medium

@reel 2 96-120 4 chords=folk form=folk human=1
bass(abass,nylon) 1...5... | 1.......
comp(steel,piano) x.x.x.x. | ..x...x.
bodhran X.xxX.xx
lead(fiddle,flute,whistle,accordion) running

@fiddle_alone 2 90-126 4 chords=folk form=folk human=2
lead(fiddle,violin) running

@fiddle_alone_jig 2 96-126 3 chords=folk form=folk human=2
lead(fiddle,whistle,bagpipe) running

@flute_alone 3 80-140 2 chords=folk form=folk human=2
lead(flute,recorder,oboe,clarinet,ocarina) medium

@hymn 4 66-104 2 chords=hymn form=hymn human=2 harm=1
comp(church,choir,brass,strings) x-x-x-x-
bass(church,choir,tuba) 1-1-1-1-
lead(church,choir,trumpet) hymn

@hymn_three 3 76-110 2 chords=hymn form=hymn human=2 harm=1
comp(church,choir,organ) x-x-x-
bass(church,contra) 1-1-1-
lead(church,choir,oboe) hymn

@chorus_oohs 4 60-100 2 chords=hymn form=hymn human=2
comp(ooh,choir) x---x--- | x-x-x-x-
bass(ooh) 1---5--- | 1-------
lead(voice,ooh) medium

@a_cappella_beat 4 84-120 4 chords=pop form=song human=1
rim   ....x.......x... | ................
clap  ................ | ....x.......x...
bass(ooh) 1..1..1.5..5..1. | 1-1-..1-5-5-..5-
comp(ooh) ..x...x...x...x. | x--x--x-x--x--x-
lead(voice) medium

@solo_piano_classical 4 72-132 4 chords=baroque form=folk human=3
arp(piano) 1323132313231323 | 1.3.2.3.1.3.2.3.
bass(piano) 1--------------- | 1-------5-------
lead(piano) medium

@solo_piano_romantic 4 54-84 3 chords=jazz form=folk human=4
arp(piano) 123432123432 | 1.3.5.4.3.2.
bass(piano) 1----------- | 1-----5-----
lead(piano) sparse

@solo_piano_pop 4 66-110 4 chords=pop form=song human=3 push=1
comp(piano) ....x-..x-..x-.. | x---x---x---x--- | ..x...x...x...x.
bass(piano) 1-------5------- | 1-----1-1-----5-
lead(piano) medium

@ragtime 2 76-108 4 chords=folk form=folk human=2
bass(piano) 1...4... | 1...5...
comp(piano) ..x...x.
lead(piano) ragged

@solo_guitar 4 76-120 4 chords=folk form=folk human=3
arp(nylon,steel) 1-2-3-2-4-2-3-2- | 1-3-4-3-2-3-4-3- | 1--3--4-3-2-4---
lead(nylon) sparse

@solo_guitar_three 3 90-150 2 chords=folk form=folk human=3
arp(nylon,steel,harp) 1-3-4- | 123432 | 1-2-3-
lead(nylon) sparse

@strummed_song 4 80-130 4 chords=folk form=song human=2
comp(steel,nylon) x---x-x-..x-x-x- | x---x-xxx---x-xx | x-x-..x-..x-x-..
lead(voice,harmonica) medium

@string_orchestra 4 66-116 2 chords=baroque form=folk human=2
bass(contra,cello) 1---5--- | 1-3-5-8- | 1-------
comp(strings) x-x-x-x- | x------- | x---x---
lead(strings,violin,viola) medium

@string_orchestra_slow 3 50-84 2 chords=hymn form=folk human=3
bass(contra,cello) 1-----
comp(strings) x----- | x---x-
lead(violin,strings,horn) sparse

@pizzicato 4 96-138 2 chords=folk form=folk human=1
bass(pizz) 1.5.1.5. | 1...5...
comp(pizz) .x.x.x.x | ..x...x.
lead(pizz,flute,clarinet) medium

@pads_and_tune 4 60-92 2 chords=minor form=folk human=1
pad(choir,pad,synstr) x-------
bass(synbass,cello) 1-------
lead(flute,oboe,synlead,voice) medium

@music_box 3 90-140 2 chords=folk form=folk human=1
arp(musicbox,celesta) 1.2.3. | 123432
lead(musicbox,celesta,glock) medium

@bells_carol 4 90-150 2 chords=hymn form=folk human=1
bass(bells,vibes) 1---5---
comp(celesta,vibes,harp) x...x... | ..x...x.
sleigh xxxxxxxx | x.x.x.x.
lead(bells,glock,celesta) hymn

@sleigh_song 4 110-200 2 chords=pop form=song human=1 swing=8:0.5-0.66
kick  x...x...
snare ..x...x.
sleigh x.x.x.x. | xxxxxxxx
bass(abass,ebass) 1-5-1-5- | 1-3-5-6-
comp(piano,brass,clean) ..x...x. | x..x.... | x.x.x.x.
pad(strings,choir) x-------
lead(voice,bells,trumpet,sax) medium

@film_march 4 90-132 4 chords=minor form=folk human=1
kick  x.....x.x.....x.
snare x..xx..xx..xx.xx | ........x..xx...
tom1  x...x.x.x...x.x.
bass(contra,tuba) 1.111.111.111.11 | 1---1---1---1---
comp(strings,brass) x.xxx.xxx.xxx.xx | x-------x-------
lead(horn,brass,trumpet) medium

@balkan_seven 7 180-220 2 chords=minor form=folk human=1
kick  x.....x...x... | x.........x...
snare ....x.....x... | ......x...x...
bass(abass,tuba) 1-....5-..1-..
comp(accordion,nylon) ....x...x...x.
lead(clarinet,accordion,violin) running

@five_lullaby 5 80-130 2 chords=folk form=folk human=2
bass(cello,nylon) 1-----5--- | 1---------
arp(harp,nylon,piano) 1-2-3-4-3- | 1-3-2-1-3-
lead(flute,voice) sparse

@taiko 4 76-140 4 chords=drone form=folk human=1
tom1  X..xx.x.X..xx.xx | X...x.x.X.x.x.x. | X.x.X.x.X.x.X.x.
tom2  ....x.......x.xx | ..xx..xx..xx..xx
block x...x...x...x... | ................

@drum_solo_kit 4 80-160 4 chords=drone form=song human=1
kick  x.......x.x..... | x..x..x...x.....
snare ....X..g.g..X..g | ....X.......X...
hat   x.x.x.x.x.x.x.x. | x...x...x...x...
tom2  ..........x.x.xx | ................
"""

CLICKS = """
@click_accented 4 40-220 1 kind=click
@click_flat 4 40-220 1 kind=click
@click_three 3 60-220 1 kind=click
@click_eighths 4 40-140 2 kind=click
@click_triplets 4 40-110 3 kind=click
@click_two 2 40-160 1 kind=click
@click_five 5 80-200 1 kind=click
@kick_only 4 60-180 1 kind=click
@hat_only 4 60-160 2 kind=click
@click_drifting 4 60-180 1 kind=click human=2
"""
