package authority

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
)

// fingerprintWords is how many words stand for a fingerprint: 10 of 256 are 80
// bits. Whoever wants another certificate with the same words has to make some
// 10^24 of them.
const fingerprintWords = 10

// words are 256 English words for the 256 values of a byte, put together for
// this program: four to eight letters, no two with the same first three
// letters, no two closer than three letters to each other, so that they can be
// read out on a noisy deck.
var words = strings.Fields(`
	acorn amber anchor apple apron atlas autumn badge bamboo banjo barley basket beaver bellow bishop bonfire
	border bottle bronze buffalo bundle butter cabin cactus camel canvas carpet castle cedar chalk cherry chimney
	cinema circus clover cobalt coffee copper cotton cowboy cradle cricket crystal cuckoo curtain cushion dagger daisy
	denim desert diamond dinner doctor dolphin donkey dragon drum duchess eagle echo eclair emerald engine escort
	evening fabric falcon farmer feather fender fiddle filter flag flute forest fossil galaxy garlic gazelle geyser
	ghost giant giraffe glacier goblin goggle granite guitar gumbo gypsum hamster harbour helmet hickory hotel husky
	hyena icicle igloo impala indigo insect iris island ivory jaguar jasmine jelly jigsaw juniper kayak kennel
	kidney kimono kingdom kiosk kitten koala ladder lagoon lantern laurel lava lemon leopard library lilac linen
	lizard lobster locket lotus lunch lynx machine magnet marble meadow mercury meteor milk mimosa mirror moose
	morning mosaic muffin museum napkin narwhal nectar needle nickel nougat nugget nutmeg nylon oasis oatmeal octopus
	olive omelet onion opal orchid organ osprey oxygen palace panda papaya parrot pastry peanut pebble pelican
	pencil phoenix pickle pigeon pirate pizza poem polka poncho poppy potato pretzel pumpkin purple python quartz
	queen quilt rabbit raccoon radish raisin raven ribbon ring ruby runway saffron scarf school scooter seagull
	sequin shelter sketch skunk sleigh slipper smoke snail soccer sofa sonnet spider sponge spruce stable steam
	stork sugar summer swan syrup teapot temple tennis thistle tiger toast toucan tulip tundra twig vessel
	violin waffle walnut wasp water wheat widget window wolf wombat yacht yarn yogurt zebra zephyr zigzag
`)

// Words is the start of the SHA-256 of the authority's certificate, as ten
// words. A person who compares them on two screens sees whether the tablet
// installed the authority of this laptop or of another one. Words that a page
// shows prove nothing against somebody who made that page: for that compare
// [Authority.Fingerprint] with what the tablet's own settings show.
func (a *Authority) Words() []string { return wordsOf(a.cert.Raw) }

func wordsOf(der []byte) []string {
	sum := sha256.Sum256(der)
	out := make([]string, fingerprintWords)
	for i := range out {
		out[i] = words[sum[i]]
	}
	return out
}

// Fingerprint is the whole SHA-256 of the authority's certificate in pairs of
// hexadecimal digits, as the settings of iPadOS and Android show it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	digits := strings.ToUpper(hex.EncodeToString(sum[:]))
	pairs := make([]string, len(sum))
	for i := range pairs {
		pairs[i] = digits[2*i : 2*i+2]
	}
	return strings.Join(pairs, " ")
}
