package register

import "errors"

var errUnfinished = errors.New("register: not written yet")
