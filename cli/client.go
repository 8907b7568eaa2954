package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"storeyrod/defects"
)

const (
	clientTries   = 4
	clientWaits   = 500 * time.Millisecond
	clientPatient = 10 * time.Second // longest wait that a server may ask for
	maxAnswer     = 64 << 20
	clientAtOnce  = 4

	statusMismatch = 460 // of the protocol of uploads: another checksum
)

// client talks to a running server over its REST interface.
type client struct {
	base  string // "https://host/api/v1"
	token string
	http  *http.Client
}

func newClient(server, token string) (*client, error) {
	u, err := url.Parse(server)
	if err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Host == "" {
		return nil, usagef("--server is an address such as https://storeyrod.example, not %q", clip(server))
	}
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.MaxIdleConnsPerHost = mostAtOnce // else most connections serve one request
	return &client{
		base: strings.TrimRight(u.Scheme+"://"+u.Host+u.Path, "/") + "/api/v1", token: token,
		http: &http.Client{
			Transport: transport,
			// A redirect would carry the token somewhere else.
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
	}, nil
}

func (c *client) close() error {
	c.http.CloseIdleConnections()
	return nil
}

// call sends a request and answers its body; the caller closes it. Busy servers
// are asked again a few times, from the start of the body.
func (c *client) call(ctx context.Context, method, path string, body io.ReadSeeker, kind string) (*http.Response, error) {
	for try := 1; ; try++ {
		res, err := c.once(ctx, method, path, body, kind)
		if err != nil {
			return nil, err
		}
		busy := res.StatusCode == http.StatusServiceUnavailable || res.StatusCode == http.StatusTooManyRequests
		if !busy || try == clientTries {
			if res.StatusCode/100 == 2 {
				return res, nil
			}
			defer res.Body.Close()
			return nil, problem(res)
		}
		wait := retryAfter(res, try)
		_ = res.Body.Close()
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(wait):
		}
	}
}

func (c *client) once(ctx context.Context, method, path string, body io.ReadSeeker, kind string) (*http.Response, error) {
	var send io.Reader
	var size int64
	if body != nil {
		var err error
		if size, err = body.Seek(0, io.SeekEnd); err != nil {
			return nil, fmt.Errorf("read: %w", err)
		}
		if _, err := body.Seek(0, io.SeekStart); err != nil {
			return nil, fmt.Errorf("read: %w", err)
		}
		send = io.NopCloser(body) // the caller closes it
	}
	req, err := http.NewRequestWithContext(ctx, method, c.base+path, send)
	if err != nil {
		return nil, fmt.Errorf("server: %w", err)
	}
	req.ContentLength = size
	if kind != "" {
		req.Header.Set("Content-Type", kind)
	}
	return c.do(req)
}

// tus sends one request of the protocol of uploads, once.
func (c *client) tus(ctx context.Context, method, path string, piece []byte, header map[string]string) (*http.Response, error) {
	req, err := http.NewRequestWithContext(ctx, method, c.base+path, bytes.NewReader(piece))
	if err != nil {
		return nil, fmt.Errorf("server: %w", err)
	}
	for name, value := range header {
		req.Header.Set(name, value)
	}
	req.Header.Set("Tus-Resumable", "1.0.0")
	if method == http.MethodPatch {
		req.Header.Set("Content-Type", pieceType)
	}
	return c.do(req)
}

func (c *client) do(req *http.Request) (*http.Response, error) {
	req.Header.Set("Authorization", "Bearer "+c.token)
	req.Header.Set("User-Agent", "storeyrod-cli/"+thisBuild().Version)
	res, err := c.http.Do(req)
	if err != nil {
		return nil, fmt.Errorf("server: %w", err)
	}
	return res, nil
}

func retryAfter(res *http.Response, try int) time.Duration {
	if s, err := strconv.Atoi(res.Header.Get("Retry-After")); err == nil && s >= 0 {
		return min(time.Duration(s)*time.Second, clientPatient)
	}
	return clientWaits << (try - 1)
}

// wireProblem is what verbs read of an RFC 9457 problem document.
type wireProblem struct {
	Title    string `json:"title"`
	Detail   string `json:"detail"`
	Code     string `json:"code"`
	Field    string `json:"field"`
	Instance string `json:"instance"`
}

func (p wireProblem) text() string {
	text := fallback(p.Detail, p.Title)
	if p.Field != "" && !strings.HasPrefix(text, p.Field+":") {
		text = p.Field + ": " + text
	}
	return text
}

// problem makes the server's refusal one of ours.
func problem(res *http.Response) error {
	text, _ := io.ReadAll(io.LimitReader(res.Body, 1<<20))
	var p wireProblem
	if json.Unmarshal(text, &p) != nil || p.Code == "" {
		return fmt.Errorf("server: %s", res.Status)
	}
	kind := defects.Invalid
	switch res.StatusCode {
	case http.StatusUnauthorized:
		kind = defects.Unauthenticated
	case http.StatusForbidden:
		kind = defects.Forbidden
	case http.StatusNotFound:
		kind = defects.NotFound
	case http.StatusServiceUnavailable, http.StatusTooManyRequests, http.StatusRequestTimeout:
		kind = defects.Unavailable
	case http.StatusConflict:
		kind = defects.Conflict
	case http.StatusLocked:
		kind = defects.Locked
	case statusMismatch:
		kind = defects.Mismatch
	}
	return defects.Refuse(kind, p.Code, p.text())
}

// get reads a JSON answer.
func (c *client) get(ctx context.Context, path string, to any) error {
	res, err := c.call(ctx, http.MethodGet, path, nil, "")
	if err != nil {
		return err
	}
	return readAnswer(res, to)
}

func (c *client) post(ctx context.Context, path string, body []byte, kind string, to any) error {
	res, err := c.call(ctx, http.MethodPost, path, bytes.NewReader(body), kind)
	if err != nil {
		return err
	}
	return readAnswer(res, to)
}

func readAnswer(res *http.Response, to any) (err error) {
	defer func() { err = errors.Join(err, res.Body.Close()) }()
	body := io.LimitReader(res.Body, maxAnswer)
	defer func() { _, _ = io.Copy(io.Discard, body) }() // so that the connection serves again
	if err := json.NewDecoder(body).Decode(to); err != nil {
		return fmt.Errorf("read the server's answer: %w", err)
	}
	return nil
}
