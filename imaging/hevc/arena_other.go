//go:build !unix

package hevc

func reserve(n int) (memory []byte, mapped bool) { return make([]byte, n), false }

func release([]byte) error { return nil }
