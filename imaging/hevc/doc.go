// Package hevc owns the decoding of single HEVC pictures: libde265 and libheif
// as a WebAssembly module, run in a sandbox of bounded memory, and the few
// bytes of protocol by which one process has it run in another.
//
// The sandbox keeps a hostile picture from touching anything but its own
// memory. It can't be stopped: checking for a deadline inside the module makes
// it four and a half times slower, and while it runs the garbage collector
// waits for it. So the program runs it in a child process (Serve on the child's
// streams, Client on the parent's), where the system ends it.
//
// It must not import os, net or os/exec, nor any other package of this project:
// files come in as bytes and go out as planes.
package hevc
