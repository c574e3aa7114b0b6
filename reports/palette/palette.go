// Package palette holds the colours by which reports tell cars apart, so that a
// car in the workbook has the hue that it has in the pictures and on the page.
package palette

// Lines are the colours of lines on a light ground, as 0xRRGGBB. Neighbours differ
// in lightness too. The hues are near those of Okabe and Ito's palette for
// colour-blind people (from memory), darkened where white would swallow them.
var Lines = []uint32{0x0072b2, 0xc9560a, 0x008a64, 0xb1558d, 0x9c6f00, 0x4a4f55, 0x2a8fc7}

// LinesDark are the same hues on a dark ground.
var LinesDark = []uint32{0x56b4e9, 0xff8a4c, 0x2fc296, 0xe39cc6, 0xe6b23c, 0xc3cad1, 0xf0e442}
