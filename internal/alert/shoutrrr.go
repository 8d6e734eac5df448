package alert

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"reflect"
	"slices"

	"github.com/nicholas-fedor/shoutrrr/pkg/format"
	"github.com/nicholas-fedor/shoutrrr/pkg/router"
	"github.com/nicholas-fedor/shoutrrr/pkg/types"
)

// mostOutstanding is how many sends of one channel may hang in the library.
const mostOutstanding = 4

// Shoutrrr sends through the notification library. The library cannot be told
// to stop: a send that outlives its deadline goes on, and may still arrive.
// Such sends are counted, and while too many hang no other is begun.
type Shoutrrr struct {
	name   string
	url    *url.URL
	redact redactor
	slots  chan struct{}
}

func newShoutrrr(name string, u *url.URL) (*Shoutrrr, error) {
	s := &Shoutrrr{name: name, url: u, redact: newRedactor(u), slots: make(chan struct{}, mostOutstanding)}
	service, err := new(router.ServiceRouter).NewService(u.Scheme)
	if err != nil {
		return nil, fmt.Errorf("no channel is called %q: use https:// or one of the library's schemes", u.Scheme)
	}
	if u.Scheme == "matrix" {
		return s, nil // its set-up logs in, which must wait for the first send
	}
	if err := service.Initialize(s.address(), nil); err != nil {
		return nil, fmt.Errorf("%s: %s", u.Scheme, s.redact.text(err.Error()))
	}
	return s, nil
}

// Name is the address's scheme.
func (s *Shoutrrr) Name() string { return s.name }

// Send hands m to the library and waits for it or for the end of ctx.
func (s *Shoutrrr) Send(ctx context.Context, m Message) error {
	select {
	case s.slots <- struct{}{}:
	default:
		return fmt.Errorf("%d earlier sends still hang, this one was not begun", mostOutstanding)
	}
	result := make(chan error, 1)
	go func() {
		defer func() { <-s.slots }()
		result <- s.send(m)
	}()
	select {
	case err := <-result:
		if err != nil {
			return errors.New(s.redact.text(err.Error()))
		}
		return nil
	case <-ctx.Done():
		return ErrOutcomeUnknown
	}
}

// send uses a service of its own, so that no two sends share the library's
// state, and turns a panic in the library into an error.
func (s *Shoutrrr) send(m Message) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the library failed: %v", p)
		}
	}()
	service, err := new(router.ServiceRouter).NewService(s.url.Scheme)
	if err != nil {
		return err
	}
	if err := service.Initialize(s.address(), nil); err != nil {
		return err
	}
	params := types.Params{}
	if takesTitle(service) {
		params.SetTitle(m.Title)
	}
	// Some services take a title and show none: said twice is better than never.
	return service.Send(m.Title+"\n"+m.Text(), &params)
}

// address is a copy, since services may alter what they are given.
func (s *Shoutrrr) address() *url.URL {
	u := *s.url
	return &u
}

// takesTitle reports whether an initialised service has a title to set. Those
// without refuse one, and the library's interface does not say which they are.
func takesTitle(service types.Service) bool {
	field := reflect.Indirect(reflect.ValueOf(service)).FieldByName("Config")
	if !field.IsValid() || !field.CanInterface() {
		return false
	}
	config, ok := field.Interface().(types.ServiceConfig)
	if !ok {
		return false
	}
	keys := format.NewPropKeyResolver(config)
	return slices.Contains(keys.QueryFields(), types.TitleKey)
}
