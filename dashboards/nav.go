package dashboards

// navPlace is one page that the navigation offers. Adding a page is adding a line
// to places.
type navPlace struct {
	Title string
	// href says where the page is. It answers "" while there is nothing to show,
	// and the navigation then leaves the page out.
	href func(s *server, rooms []roomLink) string
}

// places are the pages in the order shown: what a finisher opens at night comes
// first. A page is marked as the one shown when page.Section is its title.
func places() []navPlace {
	return []navPlace{
		{"Tonight", func(*server, []roomLink) string { return "/" }},
		{"Room", firstRoom},
		{"Pieces", fromJournal("/pieces")},
		{"Alerts", func(s *server, _ []roomLink) string {
			if s.alerts == nil {
				return ""
			}
			return "/alerts"
		}},
		{"Shelf", fromJournal("/shelf")},
		{"Plan", func(s *server, _ []roomLink) string {
			if s.book.Products == nil {
				return ""
			}
			return "/plan"
		}},
		{"Setup", func(*server, []roomLink) string { return "/setup" }},
		{"Sensors", func(s *server, _ []roomLink) string {
			if s.checks == nil {
				return ""
			}
			return "/sensors"
		}},
		{"Account", func(s *server, _ []roomLink) string {
			if s.people == nil {
				return ""
			}
			return "/account"
		}},
		{"Shop wall", func(_ *server, rooms []roomLink) string {
			if len(rooms) == 0 {
				return ""
			}
			return "/wall"
		}},
	}
}

// firstRoom leads to the first room; the room page leads on to the others.
func firstRoom(_ *server, rooms []roomLink) string {
	if len(rooms) == 0 {
		return ""
	}
	return "/room/" + rooms[0].ID
}

// inBar is how many pages the bar of a phone holds. Where there are more, the
// last place is a fold that holds the rest.
const inBar = 5

// navView is the navigation of one page.
type navView struct {
	Near []navLink // always in sight
	Far  []navLink // on a phone, in the fold
}

type navLink struct {
	Title, Href string
	Here        bool // the page shown is this one, or belongs to it
}

// FarHere reports whether the page shown is one of those in the fold.
func (n navView) FarHere() bool {
	for _, l := range n.Far {
		if l.Here {
			return true
		}
	}
	return false
}

// Nav is the navigation as this page shows it.
func (p page) Nav() navView {
	var links []navLink
	for _, at := range places() {
		if href := at.href(p.server, p.Rooms); href != "" {
			links = append(links, navLink{Title: at.Title, Href: href, Here: at.Title == p.Section})
		}
	}
	return fold(links)
}

func fold(links []navLink) navView {
	if len(links) <= inBar {
		return navView{Near: links}
	}
	return navView{Near: links[:inBar-1], Far: links[inBar-1:]}
}
