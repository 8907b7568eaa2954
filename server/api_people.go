package server

import (
	"context"
	"time"

	"storeyrod/defects"
)

// Me is the account that asks.
type Me struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Admin bool   `json:"admin"`
}

type meOut struct{ Body Me }

// Member is a person's role on a site.
type Member struct {
	AccountID string `json:"account_id"`
	Login     string `json:"login"`
	Name      string `json:"name"`
	Role      string `json:"role"`
	Gang      string `json:"gang,omitempty"`
}

type membersOut struct {
	Body struct {
		Items []Member `json:"items"`
	}
}

type memberIn struct {
	SiteIn
	Login string `path:"login"`
	Body  struct {
		Role string `json:"role" doc:"empty takes the person off the site"`
		Gang string `json:"gang,omitempty"`
	}
}

type tokenIn struct {
	Body struct {
		Label string `json:"label" doc:"what it is for"`
		Days  int    `json:"days,omitempty" minimum:"1" maximum:"366" default:"90"`
	}
}

type tokenOut struct {
	Body struct {
		ID      string `json:"id"`
		Token   string `json:"token" doc:"shown this once"`
		Expires string `json:"expires_at"`
	}
}

func (a *api) people() {
	reg := a.s.reg
	handle(a, get("/me", "Who you are"), signedIn, func(ctx context.Context, _ *struct{}) (*meOut, error) {
		actor := actorFrom(ctx)
		return &meOut{Body: Me{ID: actor.AccountID, Name: actor.Name, Admin: actor.Admin}}, nil
	})
	handle(a, created(post("/me/tokens", "Make a bearer token for a program")), signedIn, func(ctx context.Context, in *tokenIn) (*tokenOut, error) {
		secret, key, err := reg.CreateToken(ctx, actorFrom(ctx), in.Body.Label, time.Duration(in.Body.Days)*24*time.Hour)
		out := &tokenOut{}
		out.Body.ID, out.Body.Token, out.Body.Expires = key.ID, secret, stamp(key.ExpiresAt)
		return out, err
	})
	handle(a, get("/sites/{site}/people", "Who is on the site"), may(defects.ViewSite), func(ctx context.Context, in *SiteIn) (*membersOut, error) {
		list, err := reg.Members(ctx, actorFrom(ctx), in.Site)
		out := &membersOut{}
		out.Body.Items = each(list, func(m defects.Membership) Member {
			return Member{AccountID: m.AccountID, Login: m.Login, Name: m.Name, Role: string(m.Role), Gang: m.Gang}
		})
		return out, err
	})
	op := patch("/sites/{site}/people/{login}", "Set a person's role")
	op.Method = "PUT"
	handle(a, op, may(defects.EditPeople), func(ctx context.Context, in *memberIn) (*struct{}, error) {
		return nil, reg.SetRole(ctx, actorFrom(ctx), in.Site, in.Login, defects.Role(in.Body.Role), in.Body.Gang)
	})
}
