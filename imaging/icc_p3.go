package imaging

import (
	"encoding/binary"
	"math"
)

// displayP3 builds the colour profile of a picture that says by number alone
// that its primaries are those of Display P3 with the tone curve of sRGB
// (ICC.1:2010 §8.3: matrix profile, version 4). Colours are given for the
// profile's white, D50, by Bradford adaptation from D65.
func displayP3() []byte {
	tags := [][2]string{
		{"desc", localised("Display P3")}, {"cprt", localised("No copyright")}, {"wtpt", xyz(whiteD50())},
	}
	m := adaptedP3()
	for i, name := range []string{"rXYZ", "gXYZ", "bXYZ"} {
		tags = append(tags, [2]string{name, xyz([3]float64{m[0][i], m[1][i], m[2][i]})})
	}
	curve := "para\x00\x00\x00\x00\x00\x03\x00\x00" // IEC 61966-2-1
	for _, v := range []float64{2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045} {
		curve += s15Fixed16(v)
	}
	for _, name := range []string{"rTRC", "gTRC", "bTRC"} {
		tags = append(tags, [2]string{name, curve})
	}
	return profileOf(tags)
}

// profileOf lays out header, tag table and tags; equal tags share their bytes.
func profileOf(tags [][2]string) []byte {
	const header = 128
	be := binary.BigEndian
	out := make([]byte, header+4+12*len(tags))
	at := map[string]int{}
	for i, tag := range tags {
		if _, there := at[tag[1]]; !there {
			at[tag[1]] = len(out)
			out = append(out, tag[1]...)
			out = append(out, make([]byte, -len(out)&3)...)
		}
		entry := out[header+4+12*i:]
		copy(entry, tag[0])
		be.PutUint32(entry[4:], uint32(at[tag[1]]))
		be.PutUint32(entry[8:], uint32(len(tag[1])))
	}
	be.PutUint32(out[header:], uint32(len(tags)))
	be.PutUint32(out, uint32(len(out)))
	copy(out[8:], "\x04\x00\x00\x00mntrRGB XYZ ")
	be.PutUint16(out[24:], 2017) // a date is wanted: 1 January
	be.PutUint16(out[26:], 1)
	be.PutUint16(out[28:], 1)
	copy(out[36:], "acsp")
	copy(out[68:], xyz(whiteD50())[8:])
	return out
}

// whiteD50 is the white of all profiles (ICC.1:2010 §7.2.16).
func whiteD50() [3]float64 { return [3]float64{0.9642, 1, 0.8249} }

func s15Fixed16(v float64) string {
	return string(binary.BigEndian.AppendUint32(nil, uint32(int32(math.Round(v*65536)))))
}

func xyz(v [3]float64) string {
	return "XYZ \x00\x00\x00\x00" + s15Fixed16(v[0]) + s15Fixed16(v[1]) + s15Fixed16(v[2])
}

// localised is a text in one language.
func localised(s string) string {
	b := []byte("mluc\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x0cenUS")
	b = binary.BigEndian.AppendUint32(b, uint32(2*len(s)))
	b = binary.BigEndian.AppendUint32(b, 28)
	for _, r := range s {
		b = append(b, 0, byte(r))
	}
	return string(b)
}

// adaptedP3 gives the columns of red, green and blue in XYZ under D50.
func adaptedP3() [3][3]float64 {
	// Primaries of SMPTE EG 432-1 and white D65, as x and y.
	p := [3][2]float64{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}}
	white := [3]float64{0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290}
	var m matrix3
	for i, c := range p {
		m[0][i], m[1][i], m[2][i] = c[0]/c[1], 1, (1-c[0]-c[1])/c[1]
	}
	share := m.inverse().times(white)
	for row := range m {
		for i := range share {
			m[row][i] *= share[i]
		}
	}
	// Bradford's cone response, ICC.1:2010 annex E.
	cone := matrix3{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}
	from, to := cone.times(white), cone.times(whiteD50())
	var scale matrix3
	for i := range scale {
		scale[i][i] = to[i] / from[i]
	}
	return cone.inverse().by(scale).by(cone).by(m)
}

type matrix3 [3][3]float64

func (m matrix3) times(v [3]float64) (out [3]float64) {
	for i, row := range m {
		out[i] = row[0]*v[0] + row[1]*v[1] + row[2]*v[2]
	}
	return out
}

func (m matrix3) by(n matrix3) (out matrix3) {
	for i := range 3 {
		column := m.times([3]float64{n[0][i], n[1][i], n[2][i]})
		out[0][i], out[1][i], out[2][i] = column[0], column[1], column[2]
	}
	return out
}

func (m matrix3) inverse() (out matrix3) {
	for i := range 3 {
		for j := range 3 {
			a, b, c, d := (j+1)%3, (j+2)%3, (i+1)%3, (i+2)%3
			out[i][j] = m[a][c]*m[b][d] - m[a][d]*m[b][c]
		}
	}
	det := m[0][0]*out[0][0] + m[0][1]*out[1][0] + m[0][2]*out[2][0]
	for i := range out {
		for j := range out[i] {
			out[i][j] /= det
		}
	}
	return out
}
