package register

import (
	"strconv"
	"strings"
	"time"

	"storeyrod/defects"
)

// Page sizes of lists.
const (
	defaultPage = 50
	largestPage = 500
)

// CursorOfPhoto is the After of the page that follows p in ListPhotos.
func CursorOfPhoto(p defects.Photo) string { return timeCursor(p.ReceivedAt, p.ID) }

// CursorOfReading is the After of the page that follows rd in ListReadings.
func CursorOfReading(rd defects.Reading) string { return timeCursor(rd.MeasuredAt, rd.ID) }

// CursorOfSurvey is the After of the page that follows s in ListSurveys.
func CursorOfSurvey(s defects.Survey) string { return timeCursor(s.MeasuredAt, s.ID) }

// CursorOfWeather is the After of the page that follows w in ListWeather.
func CursorOfWeather(w defects.WeatherLine) string { return timeCursor(w.At, w.ID) }

func timeCursor(at time.Time, id string) string {
	return strconv.FormatInt(at.UnixMicro(), 36) + "." + id
}

// ParseTimeCursor reads a cursor of photos, readings, surveys or weather lines. The page goes on with
// rows before (at, id) in the order of time and then id, both descending. A
// foreign text is refused with code bad_cursor.
func ParseTimeCursor(after string) (at time.Time, id string, err error) {
	stamp, id, ok := strings.Cut(after, ".")
	micros, perr := strconv.ParseInt(stamp, 36, 64)
	if !ok || perr != nil || id == "" || len(id) > 100 {
		return time.Time{}, "", badCursor()
	}
	return time.UnixMicro(micros).UTC(), id, nil
}

func badCursor() error {
	return defects.RefuseField(defects.Invalid, "after", "bad_cursor", "is no cursor of this list; take it from the page before")
}

// within gives a page's size its default and its bound.
func (p Page) within() (Page, error) {
	switch {
	case p.Limit < 0:
		return p, defects.RefuseField(defects.Invalid, "limit", "bad_number", "must be 1 to "+strconv.Itoa(largestPage))
	case p.Limit == 0:
		p.Limit = defaultPage
	}
	p.Limit = min(p.Limit, largestPage)
	return p, nil
}

// pageOf asks fetch for one row more than wanted, which tells whether another
// page follows.
func pageOf[T any](page Page, fetch func(Page) ([]T, error), cursor func(T) string) (items []T, next string, err error) {
	page, err = page.within()
	if err != nil {
		return nil, "", err
	}
	want := page.Limit
	page.Limit++
	items, err = fetch(page)
	if err != nil || len(items) <= want {
		return items, "", err
	}
	items = items[:want]
	return items, cursor(items[want-1]), nil
}

// allOf runs through all pages of a list and stops with an error of each.
func allOf[T any](fetch func(Page) ([]T, error), cursor func(T) string, each func(T) error) error {
	for page := (Page{Limit: largestPage}); ; {
		items, err := fetch(page)
		if err != nil {
			return err
		}
		for _, item := range items {
			if err := each(item); err != nil {
				return err
			}
		}
		if len(items) < page.Limit {
			return nil
		}
		page.After = cursor(items[len(items)-1])
	}
}
