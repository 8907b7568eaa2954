// Package jpeg decodes the JPEG files cameras and phones write, at n eighths
// of their size, n = 1 … 8, straight into planes of Y, Cb and Cr, and writes
// view copies from such planes.
//
// A view copy is smaller than the photo it is made of. Of every block of 8 × 8
// samples only the lowest n × n frequencies are turned back into samples, so
// most of the arithmetic and most of the memory of a full decoding is never
// spent. What can't be spared is reading the whole entropy-coded stream.
//
// The steps, one file each, with the clauses of ITU-T T.81 they follow:
//
//	source.go    bytes of the file, a window at a time
//	markers.go   marker codes and segments                        B.1
//	frame.go     frame header, components, sampling factors       B.2.2, A.1.1
//	tables.go    quantisation and Huffman tables, restarts        B.2.4
//	huffman.go   codes from lengths, look-up, long codes          C, F.2.2.3
//	bits.go      the stream of bits, stuffed zeros taken out      B.1.1.5, F.2.2.5
//	scan.go      scan header, minimum coded units, restarts       B.2.3, A.2, F.2.1.3.1
//	block.go     one block: Huffman, zig-zag, dequantisation      F.2.2.1, F.2.2.2, A.3.4, A.3.6
//	idct.go      reduced inverse cosine transform, its definition A.3.3
//	idct2.go …   the transform of 2 to 8 points
//	scale.go     choice of n
//	planes.go    where the samples go: the whole picture, or a band of rows
//
// and for writing:
//
//	encode.go    headers, minimum coded units, blocks at the edge B.2, A.2.3, A.2.4
//	annexk.go    quantisation and Huffman tables                  K.1 to K.6, C.2
//	fdct.go      forward cosine transform, quantisation           A.3.3, A.3.4
//	bitwriter.go one block, Huffman codes, stuffed zeros          F.1.2
//
// Baseline and extended sequential Huffman coding with 8 bits a sample are
// decoded, grey or YCbCr. All else is refused with ErrUnsupported before any
// picture is made, so that the caller can take another decoder; a file that
// ends early or contradicts itself is ErrCorrupt, never a partial picture.
// Memory is that of the planes, or with DecodeBands of one row of minimum coded
// units, and less than 200 kB beside: no coefficient is kept longer than its block.
//
// Written is baseline coding of grey or 4:2:0 with annex K's tables. Tables made
// for each picture would save some percent of a copy's size, at the price of going
// over all its coefficients twice.
//
// It must import nothing but the standard library, and of that neither os nor
// net nor image/jpeg: a file comes in as a reader and goes out as
// bytes.
package jpeg
