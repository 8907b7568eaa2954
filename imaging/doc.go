// Package imaging owns the bytes of photos: which type they are, whether they
// are safe to decode, what their Exif data says, the upright view copies made
// of them, and the pictures the demo draws.
//
// Every entry point takes bytes from outside and must answer with a coded
// refusal, never with a panic, an endless loop or unbounded memory. The order
// is always: Sniff the type by content, CheckHeader against Limits, and only
// then read metadata or decode pixels.
//
// It may import defects, the standard library, bep/imagemeta,
// disintegration/imaging, golang.org/x/image, golang.org/x/sync and, of this
// project, imaging/jpeg and imaging/hevc. It must not import net/http,
// database/sql or os, nor any other package of this project: photos come in as
// readers and go out as bytes.
package imaging
